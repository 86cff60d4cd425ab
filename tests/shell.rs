//! At home on a command line: every example of the help runs as typed, the Tab key of a real bash knows the names of the
//! wiring file, manual pages have what a manual page has.

use assert_cmd::Command;
use rexpect::session::{PtySession, spawn_command};
use std::fs;
use std::path::Path;

const PROGRAM: &str = env!("CARGO_BIN_EXE_ohmward");

/// The program in a folder.
fn ohmward(folder: &Path, args: &[&str]) -> std::process::Output {
    let mut command = Command::new(PROGRAM);
    command.current_dir(folder).args(args).env("NO_COLOR", "1").env("TZ", "UTC").write_stdin("");
    command.output().unwrap()
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

/// Names of all commands, from the help of the program.
fn commands() -> Vec<String> {
    let help = text(&ohmward(Path::new("."), &["--help"]).stdout);
    let list = help.split("Commands:\n").nth(1).unwrap().split("\n\n").next().unwrap();
    let names = list.lines().filter_map(|line| line.strip_prefix("  ")).filter(|line| !line.starts_with(' '));
    names.filter_map(|line| line.split_whitespace().next()).filter(|n| *n != "help").map(str::to_owned).collect()
}

/// A folder with a demo machine, and `my-cart` with another.
fn shed() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    for machine in [&["new", "orchard-cart", "."][..], &["new", "orchard-cart", "my-cart"]] {
        assert_eq!(ohmward(folder.path(), machine).status.code(), Some(0));
    }
    folder
}

/// The folder of the program stands first in the search path.
fn path_with_program() -> std::ffi::OsString {
    let own = Path::new(PROGRAM).parent().unwrap().to_path_buf();
    let old = std::env::var_os("PATH").unwrap_or_default();
    std::env::join_paths([own].into_iter().chain(std::env::split_paths(&old))).unwrap()
}

#[cfg(unix)]
#[test]
fn every_example_of_every_help_runs_as_typed() {
    let commands = commands();
    assert!(commands.len() >= 20, "{commands:?}");
    let shed = shed();
    // Sheets that one of them reads are what another writes.
    let mut lines: Vec<(String, String)> = Vec::new();
    for command in &commands {
        let help = text(&ohmward(shed.path(), &[command, "--help"]).stdout);
        let mut found = 0;
        let mut rest = help.lines().peekable();
        while let Some(line) = rest.next() {
            let Some(example) = line.strip_prefix("Example: ") else { continue };
            let what = rest.peek().copied().unwrap_or_default();
            assert!(what.starts_with("     ") && what.trim().len() > 10, "{command}: {example} says not what it does");
            lines.push((command.clone(), example.to_owned()));
            found += 1;
        }
        assert!(found > 0, "{command} --help has no example");
    }
    let first = ["new", "export", "chase"];
    lines.sort_by_key(|(command, _)| !first.contains(&command.as_str()));
    for (command, line) in &lines {
        if line.starts_with("ohmward new orchard-cart my-cart") {
            fs::remove_dir_all(shed.path().join("my-cart")).unwrap();
        }
        let mut shell = Command::new("sh");
        shell.arg("-c").arg(line).current_dir(shed.path()).env("PATH", path_with_program()).write_stdin("");
        let out = shell.output().unwrap();
        let said = text(&out.stderr);
        // What asks is left at its first question here: not met.
        let asks = ["chase", "learn", "ringout", "powerup", "drill"].contains(&command.as_str());
        let fits = out.status.code() == Some(0) || (asks && out.status.code() == Some(1));
        assert!(fits, "{line}: {:?}\n{said}", out.status.code());
        assert!(!said.contains("panicked") && !said.contains("error:"), "{line}\n{said}");
        let silent = out.stdout.is_empty() && !line.contains('>') && !line.contains(" -o ");
        assert!(!silent, "{line} gave nothing\n{said}");
    }
    for file in ["horn.svg", "horn.cir", "loom.csv", "wiring.schema.json", "ohmward.bash", "ohmward-check.1", "man1"] {
        assert!(shed.path().join(file).exists(), "{file}");
    }
}

#[test]
fn manual_pages_have_name_synopsis_and_examples_for_every_command() {
    let folder = tempfile::tempdir().unwrap();
    let out = ohmward(folder.path(), &["man", "--to", "pages", "--json"]);
    let told: serde_json::Value = serde_json::from_slice(&out.stdout).unwrap();
    let written = told["written"].as_array().unwrap().len();
    let mut names = commands();
    assert!(written > names.len(), "{told}");
    for page in fs::read_dir(folder.path().join("pages")).unwrap() {
        let path = page.unwrap().path();
        let roff = fs::read_to_string(&path).unwrap();
        for section in
            [".TH ", ".SH NAME\n", ".SH SYNOPSIS\n", ".SH DESCRIPTION\n", ".SH EXAMPLES\n", ".SH \"EXIT STATUS\"\n"]
        {
            assert!(roff.contains(section), "{}: no {section}\n{roff}", path.display());
        }
        let name = path.file_stem().unwrap().to_str().unwrap().to_owned();
        // In roff a dash in a name is written \-.
        assert!(roff.contains(&format!("\n{} \\- ", name.replace('-', "\\-"))), "{name}\n{roff}");
        names.retain(|command| name != format!("ohmward-{command}"));
    }
    assert!(names.is_empty(), "no page: {names:?}");
    let page = text(&ohmward(folder.path(), &["man", "faults"]).stdout);
    assert!(page.contains("ohmward faults \\-\\-count"), "{page}");
    let out = ohmward(folder.path(), &["man", "falts"]);
    assert_eq!(out.status.code(), Some(2));
    assert!(text(&out.stderr).contains("nearest: faults"));
}

#[test]
fn every_shell_gets_a_script_of_its_own_and_a_request_that_makes_no_sense_gets_nothing() {
    let shed = shed();
    let mut scripts = Vec::new();
    for shell in ["bash", "zsh", "fish", "powershell", "elvish"] {
        let out = ohmward(shed.path(), &["completions", shell]);
        let script = text(&out.stdout);
        assert!(script.contains("ohmward") && script.contains("OHMWARD_COMPLETE") && out.stderr.is_empty(), "{script}");
        scripts.push(script);
    }
    scripts.sort();
    scripts.dedup();
    assert_eq!(scripts.len(), 5);
    for words in
        [&["--"][..], &["--", "ohmward"], &["--", "ohmward", "expect", "--fault"], &["--", "", "\u{fffd}", "--set=x"]]
    {
        for shell in ["bash", "zsh", "fish", "nushell", "/"] {
            let mut command = Command::new(PROGRAM);
            command
                .args(words)
                .env("OHMWARD_COMPLETE", shell)
                .env("_CLAP_COMPLETE_INDEX", "99999")
                .current_dir(shed.path());
            let out = command.output().unwrap();
            assert!(out.status.success() && out.stderr.is_empty(), "{words:?}, {shell}: {out:?}");
        }
    }
}

/// A real bash at a terminal, told how to complete.
#[cfg(unix)]
struct Bash(PtySession);

#[cfg(unix)]
impl Bash {
    fn new(folder: &Path) -> Option<Bash> {
        let mut command = std::process::Command::new("bash");
        command.args(["--norc", "--noprofile", "-i"]).current_dir(folder).env("PATH", path_with_program());
        command.env("TERM", "dumb").env("PS1", "READY> ").env("HISTFILE", "").env_remove("INPUTRC");
        if std::process::Command::new("bash").arg("--version").output().is_err() {
            return None;
        }
        let mut bash = Bash(spawn_command(command, Some(20_000)).unwrap());
        bash.0.exp_string("READY> ").unwrap();
        for line in
            ["bind 'set bell-style none'", "bind 'set completion-query-items 0'", "source <(ohmward completions bash)"]
        {
            bash.0.send_line(line).unwrap();
            bash.0.exp_string("READY> ").unwrap();
        }
        Some(bash)
    }

    /// The words of the line that stands there once Tab was pressed, as bash itself reads them.
    fn tab(&mut self, typed: &str) -> Vec<String> {
        self.0.send(typed).unwrap();
        self.0.send("\t").unwrap();
        // To the front of the line, and what prints its words before it.
        self.0.send("\u{1}printf '<%s>' [ \u{5} ]").unwrap();
        self.0.send_line("").unwrap();
        self.0.exp_string("<[>").unwrap();
        let line = self.0.exp_string("<]>").unwrap();
        self.0.exp_string("READY> ").unwrap();
        line.split('<').filter_map(|word| word.strip_suffix('>')).map(str::to_owned).collect()
    }
}

#[cfg(unix)]
#[test]
fn the_tab_key_of_a_real_bash_completes_commands_and_the_names_of_the_wiring_file() {
    let shed = shed();
    let Some(mut bash) = Bash::new(shed.path()) else { return };
    for (typed, last) in [
        ("ohmward reh", "rehearse"),
        ("ohmward check --js", "--json"),
        ("ohmward check --color al", "always"),
        ("ohmward expect volts-l", "volts-loz"),
        ("ohmward expect volts-dc horn.f", "horn.feed"),
        ("ohmward expect volts-dc horn.feed rev-gauge.g", "rev-gauge.ground"),
        ("ohmward expect watch coolant-g", "coolant-gauge"),
        ("ohmward expect touch under-s", "under-seat"),
        ("ohmward expect watch horn --set horn-p", "horn-push="),
        ("ohmward expect watch horn --set horn-push=pr", "horn-push=pressed"),
        ("ohmward expect watch horn --set=horn-push=pr", "--set=horn-push=pressed"),
        ("ohmward expect watch horn --set key=on,horn-push=p", "key=on,horn-push=pressed"),
        ("ohmward expect watch horn --fault G4:res", "G4:resistive(2)"),
        ("ohmward expect watch horn --fault 'G4:res", "G4:resistive(2)"),
        ("ohmward expect watch horn --fault G4:resistive\\(", "G4:resistive(2)"),
        ("ohmward expect watch horn --open main-f", "main-fuse"),
        ("ohmward draw rev-g", "rev-gauge"),
        ("ohmward ringout P", "P"),
        ("ohmward kinds oil-pr", "oil-pr"),
        ("ohmward kinds 'push sw", "push switch"),
        ("ohmward kinds push\\ sw", "push switch"),
        ("ohmward new moor", "moor-roadster"),
        ("ohmward drill --machine verge", "verge-mower"),
        ("ohmward check --wiring my-cart/wir", "my-cart/wiring.yaml"),
        ("ohmward completions fi", "fish"),
        ("ohmward man ring", "ringout"),
    ] {
        let words = bash.tab(typed);
        assert_eq!(words.last().map(String::as_str), Some(last), "{typed}: {words:?}");
    }
    // Another file on the same line is the one that names come from; a broken one gives none.
    fs::write(shed.path().join("broken.yaml"), "parts: [").unwrap();
    assert_eq!(bash.tab("ohmward expect --wiring broken.yaml volts-dc horn.f").last().unwrap(), "horn.f");
    assert_eq!(bash.tab("ohmward expect --wiring broken.yaml volts-l").last().unwrap(), "volts-loz");
    bash.0.send_line("exit").unwrap();
    bash.0.exp_eof().unwrap();
}
