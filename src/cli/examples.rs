//! One place for what the help of each command shows: a line to type, and what it does. A test types each of them.

use super::exit;

/// By command: lines in the order in which one would try them, each with what it does.
const EXAMPLES: &[(&str, &[(&str, &str)])] = &[
    (
        "chase",
        &[
            (
                "ohmward chase \"the rev needle jumps when I press the horn\"",
                "asks for the one reading that tells most, then the next, until the fault has a name",
            ),
            ("ohmward chase --paper", "the next three tests of that chase, to take along under the machine"),
        ],
    ),
    (
        "rehearse",
        &[("ohmward rehearse --seed 7", "a fault is planted in a built-in machine; Enter takes each reading")],
    ),
    (
        "drill",
        &[(
            "ohmward drill --machine orchard-cart --faults 2",
            "plants two faults, chases both by itself, says how it went",
        )],
    ),
    (
        "check",
        &[(
            "ohmward check --wiring my-cart/wiring.yaml",
            "reads the file of that folder and says what to see to, worst first",
        )],
    ),
    (
        "draw",
        &[
            (
                "ohmward draw horn rev-gauge --set key=on,horn-push=pressed -o horn.svg",
                "draws both circuits with the horn sounding; open horn.svg in a browser",
            ),
            ("ohmward draw horn --path", "the same way in words: each step from feed to ground, with its volts"),
        ],
    ),
    (
        "expect",
        &[
            (
                "ohmward expect volts-dc horn.feed battery.neg --set key=on,horn-push=pressed",
                "what the meter reads at the horn of a sound machine, with how far it may be off",
            ),
            (
                "ohmward expect watch horn --set key=on,horn-push=pressed --fault 'G2:resistive(2)'",
                "what the horn does if ground point G2 has two ohms",
            ),
        ],
    ),
    (
        "faults",
        &[
            ("ohmward faults --count", "how many things could be wrong with this machine"),
            ("ohmward faults", "all of them, the likeliest first, each with its repair"),
        ],
    ),
    ("guide", &[("ohmward guide reasoning", "a page of the handbook; without a name the pages are listed")]),
    ("kinds", &[("ohmward kinds horn", "pins, ratings and faults of a horn, and where the figures come from")]),
    (
        "export",
        &[
            (
                "ohmward export spice --set key=on,horn-push=pressed > horn.cir",
                "the circuit in that state, for a circuit simulator",
            ),
            ("ohmward export csv > loom.csv", "the rows of the wiring file, for a spreadsheet"),
        ],
    ),
    ("trail", &[("ohmward trail show", "the newest chase, answer by answer")]),
    (
        "new",
        &[
            ("ohmward new orchard-cart my-cart", "makes the folder my-cart with a wiring file to change into yours"),
            ("ohmward new verge-mower my-mower --without lights", "the same of another machine, less its lights"),
            (
                "ohmward new lane-motorcycle my-bike --with \"heated grips, 4 A, on F3, ground G1\"",
                "and of a third, with a part more; its rows are marked ?, assumed",
            ),
        ],
    ),
    (
        "wire",
        &[
            (
                "ohmward wire \"buzzer: horn, 0.5 A, dash\" \"buzzer.ground to G2, black, 0.4 m\"",
                "adds a part and a wire to wiring.yaml, both or none",
            ),
            ("ohmward wire --undo", "takes that back"),
        ],
    ),
    (
        "import",
        &[(
            "ohmward import loom.csv --into wiring.yaml --dry-run",
            "says how each row would be read; writes nothing yet",
        )],
    ),
    (
        "learn",
        &[(
            "ohmward learn key --wires \"white, brown, blue\" --positions \"off, on, start*\"",
            "asks for one touch of the beeper at a time; start springs back",
        )],
    ),
    (
        "ringout",
        &[("ohmward ringout P9", "asks for a beep on each way of plug P9, then names what is crossed or dead")],
    ),
    (
        "powerup",
        &[
            ("ohmward powerup --paper", "all steps with what each should read, to take along"),
            ("ohmward powerup --lamp 21", "the same step by step, through a 21 W lamp in the minus lead"),
        ],
    ),
    (
        "extend",
        &[(
            "ohmward extend P9 --by 1.2m --spool \"red 1.5 mm2 10 m\"",
            "plug P9 moves by 1.2 m: sizes, cut list, what to buy, order of work",
        )],
    ),
    (
        "schema",
        &[(
            "ohmward schema > wiring.schema.json",
            "a file for your editor, so that it completes and checks wiring.yaml",
        )],
    ),
    ("completions", &[("ohmward completions bash > ohmward.bash", "then, in bash: source ohmward.bash")]),
    (
        "man",
        &[
            ("ohmward man check > ohmward-check.1", "one page; read it with: man -l ohmward-check.1"),
            ("ohmward man --to man1", "a page for every command into the folder man1"),
        ],
    ),
];

/// What the help of the whole program shows.
pub const FIRST: &[(&str, &str)] = &[
    ("ohmward rehearse", "a drill on a built-in machine, no meter needed"),
    ("ohmward new orchard-cart my-cart", "a folder with a wiring file to change"),
    ("ohmward chase \"the horn is dead\"", "in the folder with your wiring.yaml"),
];

/// The help of the whole program, behind the list of commands.
pub fn first() -> String {
    let lines: String = FIRST.iter().map(|(line, what)| format!("  {line:<36}  {what}\n")).collect();
    let codes: Vec<String> = exit::CODES.iter().map(|(code, what)| format!("{code} {what}")).collect();
    format!("Begin here:\n{lines}\nExit codes: {}.", codes.join("; "))
}

/// The examples of a command.
pub fn of(command: &str) -> &'static [(&'static str, &'static str)] {
    EXAMPLES.iter().find(|(name, _)| *name == command).map_or(&[], |(_, examples)| examples)
}

/// As the help shows them.
pub fn help(command: &str) -> String {
    let one = |(line, what): &(&str, &str)| format!("Example: {line}\n         {what}");
    of(command).iter().map(one).collect::<Vec<_>>().join("\n")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_command_has_an_example_and_every_example_its_command() {
        let command = crate::cli::command();
        let names: Vec<&str> = command.get_subcommands().map(|command| command.get_name()).collect();
        for name in &names {
            assert!(!of(name).is_empty(), "{name} has no example");
        }
        for (name, examples) in EXAMPLES {
            assert!(names.contains(name), "{name} is no command");
            for (line, what) in *examples {
                assert!(line.starts_with(&format!("ohmward {name}")), "{line}");
                // Wider ones are broken in two where there is no terminal, and no shell takes them then.
                assert!(line.len().max(what.len()) <= 90, "{line}");
            }
        }
    }
}
