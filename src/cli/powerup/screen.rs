//! Steps as screens of a few lines.

use crate::cli::paint::Paint;
use crate::cli::prompt::screen::{doing, key};
use ohmward::session::powerup::{AGAIN, Ask, CHASE, GO_ON, PowerUp, Stage, Wait};

/// Width of the words before a line.
const LEAD: usize = 9;

fn row(lead: &str, text: &str) -> String {
    format!("  {lead:<LEAD$}{text}")
}

/// What holds for a whole stage: how things stand, when to stop, the caution.
pub fn stage(power: &PowerUp, stage: Stage, paint: Paint) -> String {
    let Some(words) = power.machine().catalogue.powerup.stages.get(stage.word()) else { return stage.word().into() };
    let mut lines = vec![paint.head(&words.title.to_uppercase())];
    if stage != Stage::Safe {
        lines.push(row("first", &words.first));
        lines.push(row("STOP", &paint.caution(&words.stop)));
    }
    lines.push(row("CAUTION", &paint.caution(&words.caution)));
    lines.join("\n")
}

/// One step.
pub fn step(power: &mut PowerUp, at: usize, paint: Paint) -> String {
    let Some(step) = power.plan.steps.get(at).cloned() else { return String::new() };
    let count = paint.aside(&format!("step {} of {}", at + 1, power.plan.steps.len()));
    let mut lines =
        vec![if step.head.is_empty() { count.clone() } else { format!("{}  {count}", paint.head(&step.head)) }];
    match &step.ask {
        Ask::Do => {
            let words = power.machine().catalogue.powerup.stages.get(step.stage.word());
            lines.push(row("do", words.map_or("", |words| &words.first)));
        }
        Ask::Read(test) => {
            let (screen, minutes) = power.screen(test);
            lines.extend(doing(test, minutes, &screen, paint));
            let many = !test.then.is_empty();
            let carriers = power.carriers(at);
            let expected: Vec<String> = power
                .expected_words(at)
                .into_iter()
                .enumerate()
                .map(|(i, value)| {
                    let who: Vec<&str> = carriers.get(i).into_iter().flatten().map(|(part, _)| part.as_str()).collect();
                    let number = if many { format!("{}: ", i + 1) } else { String::new() };
                    let who = if who.is_empty() || value == "over range" {
                        String::new()
                    } else {
                        format!(" by {}", and(&who))
                    };
                    format!("{number}{}{who}", paint.value(&value))
                })
                .collect();
            lines.push(row("should", &expected.join("; ")));
            if !screen.cautions.is_empty() {
                lines.push(row("CAUTION", &paint.caution(&screen.cautions.join("; "))));
            }
        }
        Ask::Look { set, shows } => {
            lines.push(row("set", &power.say(set)));
            let shows: Vec<String> = shows
                .iter()
                .map(|(part, words)| format!("{part} {}", paint.value(&words.join(" or ").replace('-', " "))))
                .collect();
            let shows = if shows.is_empty() { "nothing".into() } else { format!("{}; nothing else", shows.join(", ")) };
            lines.push(row("should", &shows));
        }
        Ask::Feel(cables) => {
            let cables: Vec<String> = cables
                .iter()
                .enumerate()
                .map(|(i, (cable, amps))| format!("{} {cable} ({amps:.0} A)", paint.key(&key(i))))
                .collect();
            lines.push(row("feel", &cables.join(", ")));
            lines.push(row("should", "none of them warm, nor any of their ends"));
        }
    }
    lines.join("\n")
}

fn and(names: &[&str]) -> String {
    match names {
        [] => String::new(),
        [one] => (*one).to_string(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

/// What did not go as it should, and what can be done.
pub fn wrong(power: &PowerUp, paint: Paint) -> String {
    let Wait::Wrong { text, stop, .. } = power.waiting() else { return String::new() };
    let mut lines = vec![format!("{} {text}", paint.fault("Not as it should be:"))];
    if *stop {
        lines.push(row("STOP", &paint.caution("minus clamp off before anything else is done")));
    }
    let say = [
        (AGAIN, "measure or look once more"),
        (GO_ON, "leave it open"),
        (CHASE, "find it, with all that is known by now"),
    ];
    lines.extend(say.iter().enumerate().map(|(i, (word, what))| format!("  {} {word}: {what}", paint.key(&key(i)))));
    lines.join("\n")
}

/// The prompt of what waits.
pub fn prompt(power: &PowerUp) -> &'static str {
    match (power.waiting(), power.step().map(|step| &step.ask)) {
        (Wait::Wrong { .. }, _) => "1, 2, 3> ",
        (_, Some(Ask::Do)) => "done? (y)> ",
        (_, Some(Ask::Read(test))) if !test.then.is_empty() => "readings> ",
        (_, Some(Ask::Read(_))) => "reading> ",
        (_, Some(Ask::Look { .. })) => "all so? (y, or what is not)> ",
        (_, Some(Ask::Feel(_))) => "warm? (none, or its key)> ",
        _ => "> ",
    }
}

/// How it went, as a page.
pub fn summary(power: &PowerUp, paint: Paint) -> String {
    let summary = power.summary();
    let mut lines = vec![paint.head(&format!(
        "Power is on: {} of {} steps as they should be",
        summary["well"],
        power.plan.steps.len()
    ))];
    lines.extend(power.open_points().iter().map(|point| row("open", point)));
    lines.join("\n")
}
