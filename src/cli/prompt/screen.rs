//! Events as screens of at most ten lines, verdicts as a page.

use crate::cli::paint::Paint;
use ohmward::circuit::test::{Instrument, Test};
use ohmward::notes::{alike, sureness};
use ohmward::session::start::DONT_KNOW;
use ohmward::session::{Event, Expected, Report, Screen, SuspectLine, Verdict, VerdictReason};

/// Width of the words before a line.
const LEAD: usize = 9;
/// Readings told beforehand, and suspects named for each, at most: a screen is ten lines.
const TOLD: usize = 3;
const NAMED: usize = 1;

/// The screen of an event, without a line end after the last line; `None` if a person need not see it.
pub fn screen(event: &Event, paint: Paint) -> Option<String> {
    match event {
        Event::Ask { test, minutes, expect, screen, .. } => {
            Some(ask(test, *minutes, screen, &would(expect, paint), paint))
        }
        Event::Question { text, choices, .. } => {
            let mut lines = vec![paint.head(text)];
            let key = |i: usize, choice: &str| if choice == DONT_KNOW { "?".to_string() } else { key(i) };
            lines.extend(
                choices.iter().enumerate().map(|(i, choice)| format!("  {} {choice}", paint.key(&key(i, choice)))),
            );
            Some(lines.join("\n"))
        }
        Event::TryRepair { text, report, .. } => Some(repair(text, report, paint)),
        Event::Error { text, .. } => Some(format!("{} {text}", paint.caution("not taken:"))),
        Event::Verdict { verdict, .. } => Some(page(verdict, paint)),
        Event::Suspects { .. } => None,
    }
}

/// The key of the n-th choice: 1 to 9, then a, b, …
pub fn key(index: usize) -> String {
    char::from_digit(u32::try_from(index + 1).unwrap_or(0), 36).map_or_else(|| "-".into(), String::from)
}

/// The prompt of an event that waits.
pub fn prompt(event: &Event) -> &'static str {
    match event {
        Event::Ask { screen, test, .. } => match (test.instrument, screen.settings.len() > 1) {
            (Instrument::Watch | Instrument::TestLamp, _) => "seen> ",
            (Instrument::Touch, _) => "felt> ",
            (Instrument::Beep, _) => "beeps, silent> ",
            (_, true) => "readings> ",
            (_, false) => "reading> ",
        },
        Event::Question { .. } => "answer> ",
        Event::TryRepair { .. } => "cured? (yes, no)> ",
        _ => "> ",
    }
}

/// What each reading would mean: what can be put right is named first, "none of these" stands for the rest.
fn would(expect: &[Expected], paint: Paint) -> Vec<String> {
    let (named, rest): (Vec<Expected>, Vec<Expected>) =
        expect.iter().cloned().partition(|e| !matches!(e.fault.as_str(), "nothing-broken" | "not-in-file"));
    let mut told: Vec<String> = alike(&named)
        .into_iter()
        .take(TOLD)
        .map(|(value, titles)| {
            let more = titles.len().saturating_sub(NAMED);
            let mut titles: Vec<String> = titles
                .into_iter()
                .take(NAMED)
                .map(|title| paint.fault(&title.replacen("the run from ", "", 1)))
                .collect();
            if more > 0 {
                titles.push(format!("{more} more"));
            }
            format!("{} if {}", paint.value(&value), titles.join(" or "))
        })
        .collect();
    let known: Vec<String> = alike(&named).into_iter().map(|(value, _)| value).collect();
    let sound = alike(&rest).into_iter().map(|(value, _)| value).find(|value| !known.contains(value));
    told.extend(sound.filter(|_| told.len() < TOLD).map(|value| format!("{} if none of these", paint.value(&value))));
    told
}

fn ask(test: &Test, minutes: f64, screen: &Screen, would: &[String], paint: Paint) -> String {
    let mut lines = doing(test, minutes, screen, paint);
    let mut row = |lead: &str, text: String| lines.push(format!("  {lead:<LEAD$}{text}"));
    if !would.is_empty() {
        row("expect", would.join("; "));
    }
    if !screen.cautions.is_empty() {
        row("CAUTION", paint.caution(&screen.cautions.join("; ")));
    }
    if let Some(instead) = &screen.instead {
        row("or say", paint.aside(instead));
    }
    if let Some(again) = &screen.again {
        row("again", paint.aside(again));
    }
    lines.join("\n")
}

/// What to take, set and watch, and where the leads go: a head and its rows.
pub fn doing(test: &Test, minutes: f64, screen: &Screen, paint: Paint) -> Vec<String> {
    let what = match test.instrument {
        Instrument::VoltsDc => "Volts",
        Instrument::VoltsAc => "Volts, AC range",
        Instrument::VoltsLoz => "Volts, low-impedance range",
        Instrument::Ohms => "Ohms",
        Instrument::Beep => "Beep",
        Instrument::AmpsDc => "Amps",
        Instrument::TestLamp => "Test lamp",
        Instrument::Watch => "Look",
        Instrument::Touch => "Feel",
    };
    let mut head = format!("{} {}", paint.head(what), paint.aside(&format!("({})", spell_minutes(minutes))));
    if let Some(meter) = &screen.meter {
        head += &format!(": {}", meter.strip_prefix("meter ").unwrap_or(meter));
    }
    let mut lines = vec![head];
    let mut row = |lead: &str, text: String| lines.push(format!("  {lead:<LEAD$}{text}"));
    if let Some(reach) = &screen.reach {
        row("reach", reach.clone());
    }
    if !screen.prepare.is_empty() {
        row("first", screen.prepare.join("; "));
    }
    if !screen.set.is_empty() {
        row("set", screen.set.join(", "));
    }
    if let Some(red) = &screen.red {
        row("red", paint.place(red));
    }
    if let Some(black) = &screen.black {
        row("black", paint.place(black));
    }
    if let Some(watch) = &screen.watch {
        row(test.instrument.name(), paint.place(watch));
    }
    if screen.settings.len() > 1 {
        let steps: Vec<String> = screen.settings.iter().enumerate().map(|(i, s)| format!("{}: {s}", i + 1)).collect();
        row("read", format!("{} (answers on one line)", steps.join("; ")));
    }
    if !screen.words.is_empty() {
        row("say", screen.words.iter().map(|w| paint.key(w)).collect::<Vec<_>>().join(", "));
    }
    lines
}

fn spell_minutes(minutes: f64) -> String {
    if minutes < 0.95 { "under a minute".into() } else { format!("about {minutes:.0} min") }
}

fn repair(text: &str, report: &Report, paint: Paint) -> String {
    let mut lines = vec![format!("{} {}", paint.head("Try this:"), text)];
    if !report.what.is_empty() {
        lines.push(format!("  {:<LEAD$}{} ({})", "because", paint.fault(&report.what), report.sure));
    }
    lines.extend(report.why.iter().take(2).map(|why| format!("  {:<LEAD$}{why}", "")));
    lines.extend(
        report.repair.iter().take(2).filter(|what| *what != text).map(|what| format!("  {:<LEAD$}{what}", "do")),
    );
    lines.extend(report.proof.iter().take(1).map(|what| format!("  {:<LEAD$}{what}", "proof")));
    if !report.cautions.is_empty() {
        lines.push(format!("  {:<LEAD$}{}", "CAUTION", paint.caution(&report.cautions.join("; "))));
    }
    lines.push(format!(
        "  {:<LEAD$}{}",
        "",
        paint.aside("yes, no; with a fuse found blown: no, main-fuse; skip for another test")
    ));
    lines.join("\n")
}

/// The list of suspects, words for the chance unless figures are wanted.
pub fn suspects(list: &[SuspectLine], figures: bool, paint: Paint) -> String {
    if list.is_empty() {
        return "no suspects yet".into();
    }
    // The same words are one suspect to the eye; with figures each has its own name.
    let mut seen: Vec<(&str, &str, f64)> = Vec::new();
    for line in list {
        match seen.iter_mut().find(|(title, ..)| !figures && *title == line.title) {
            Some((.., p)) => *p += line.p,
            None => seen.push((&line.title, &line.fault, line.p)),
        }
    }
    seen.sort_by(|a, b| b.2.total_cmp(&a.2));
    let lines: Vec<String> = seen
        .into_iter()
        .take(9)
        .enumerate()
        .map(|(i, (title, fault, p))| {
            let title = paint.fault(title);
            if figures {
                format!("{:>3} {:5.1} %  {title}  {}", i + 1, p * 100.0, paint.aside(fault))
            } else {
                format!("{:>3} {:<12}  {title}", i + 1, sureness(p))
            }
        })
        .collect();
    lines.join("\n")
}

/// The verdict as a page.
pub fn page(verdict: &Verdict, paint: Paint) -> String {
    let report = &verdict.report;
    let head = match (verdict.reason, verdict.cured) {
        (VerdictReason::Repair, Some(true)) if report.comes_and_goes => "Cure seen, cause not proved",
        (VerdictReason::Repair, Some(true)) => "Found and cured",
        (VerdictReason::Repair, _) => "Found",
        (VerdictReason::Group, _) => "Down to a few that no test at hand can tell apart",
        (VerdictReason::NothingAllowed, _) => "Not settled: no test at hand would change what to do",
        (VerdictReason::NothingVisible, _) => "Nothing wrong that can be seen",
        (VerdictReason::Stopped, _) => "Stopped before it was settled; leading",
    };
    let what = if report.what.is_empty() { &verdict.text } else { &report.what };
    let mut lines = vec![format!("{}: {}", paint.head(head), paint.fault(what))];
    let mut row = |lead: &str, text: &str| {
        if !text.is_empty() {
            lines.push(format!("  {lead:<15}{text}"));
        }
    };
    row("how sure", &report.sure);
    row("in short", &report.pattern);
    if !report.what.is_empty() && !verdict.text.contains(&report.what) {
        row("", &verdict.text);
    }
    for (i, why) in report.why.iter().enumerate() {
        row(if i == 0 { "why" } else { "" }, why);
    }
    for reading in &report.readings {
        let met = format!(
            "{}: predicted {}, met {}{}",
            reading.test,
            paint.value(&reading.predicted),
            paint.value(&reading.met),
            if reading.healthy.is_empty() { String::new() } else { format!(" (sound: {})", reading.healthy) }
        );
        row("reading", &met);
    }
    row("if left", &report.harm);
    row("drive it?", &report.drive);
    for text in &report.repair {
        row("repair", text);
    }
    if let Some(parts) = &report.parts {
        row("at hand", parts);
    }
    if let Some(stopgap) = &report.stopgap {
        row("for tonight", stopgap);
    }
    for text in &report.cautions {
        row("CAUTION", &paint.caution(text));
    }
    for text in &report.proof {
        row("proof", text);
    }
    for text in &report.open_points {
        row("still open", text);
    }
    if !report.others.is_empty() {
        row("also could be", &report.others.join("; "));
    }
    lines.join("\n")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_full_ask_fits_ten_lines_and_names_everything() {
        let test = Test {
            instrument: Instrument::VoltsDc,
            red: None,
            black: None,
            part: None,
            change: None,
            set: Vec::new(),
            after: Vec::new(),
            open: Vec::new(),
            bridge: Vec::new(),
            fit: Vec::new(),
            disturb: None,
            then: Vec::new(),
        };
        let some = |text: &str| Some(text.to_string());
        let event = Event::Ask {
            id: 1,
            test: Box::new(test),
            minutes: 4.2,
            expect: vec![Expected { fault: "f".into(), title: "ground G1".into(), values: vec!["1.2 V".into()] }],
            screen: Box::new(Screen {
                reach: some("seat off"),
                set: vec!["key on".into()],
                prepare: vec!["unplug P9".into()],
                meter: some("20 V DC"),
                red: some("rev-gauge.ground"),
                black: some("battery.neg"),
                settings: vec!["horn-push released".into(), "horn-push pressed".into()],
                cautions: vec!["hot".into()],
                ..Screen::default()
            }),
        };
        let text = screen(&event, Paint::plain()).unwrap();
        assert!(text.lines().count() <= 10, "{text}");
        for piece in
            ["about 4 min", "seat off", "unplug P9", "key on", "20 V DC", "red ", "black ", "1.2 V", "CAUTION", "2: "]
        {
            assert!(text.contains(piece), "{piece} in\n{text}");
        }
        assert_eq!(prompt(&event), "readings> ");
    }

    #[test]
    fn choices_have_one_key_each() {
        assert_eq!([0, 8, 9].map(key), ["1", "9", "a"]);
    }
}
