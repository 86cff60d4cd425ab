//! What the pages say is what the program does: screens in them are made by it, commands in them run, options in them exist.
//!
//! A screen is a fenced block after a comment that says how it is made:
//!
//! ```text
//! <!-- made by
//! in: orchard-cart
//! run: ohmward draw --path horn
//! say: what is typed at the next prompt
//! wide: 118
//! -->
//! ```
//!
//! `in` is `empty` or a built-in machine. A line `…` in the block stands for lines left out. `OHMWARD_WRITE=1 cargo test docs::`
//! writes the others anew.

use std::collections::BTreeMap;
use std::fmt::Write;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

/// Longest a screen may take, ms.
const PATIENCE: u64 = 60_000;
/// Where nothing else is said.
const WIDE: &str = "118";

/// A screen in a page.
#[derive(Debug)]
struct Screen {
    page: PathBuf,
    /// Its lines in the page, without the fences.
    lines: std::ops::Range<usize>,
    made: Vec<(String, String)>,
    shown: Vec<String>,
}

/// Lines of a page, and what stands there now.
type Anew = (std::ops::Range<usize>, Vec<String>);

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

fn pages() -> Vec<PathBuf> {
    let mut out = vec![root().join("README.md"), root().join("DEVELOPERS.md")];
    let guide = fs::read_dir(root().join("rules/guide")).unwrap();
    out.extend(guide.map(|entry| entry.unwrap().path()));
    out.sort();
    out
}

fn read(page: &Path) -> String {
    fs::read_to_string(page).unwrap()
}

fn screens() -> Vec<Screen> {
    let mut out = Vec::new();
    for page in pages() {
        let text = read(&page);
        let lines: Vec<&str> = text.lines().collect();
        let mut at = 0;
        while at < lines.len() {
            at += 1;
            if lines[at - 1] != "<!-- made by" {
                continue;
            }
            let mut made = Vec::new();
            while lines[at] != "-->" {
                let (key, what) = lines[at].split_once(": ").unwrap_or_else(|| panic!("{page:?}, line {}", at + 1));
                made.push((key.to_string(), what.to_string()));
                at += 1;
            }
            assert!(lines[at + 1].starts_with("```"), "{page:?}, line {}: no block follows", at + 2);
            let from = at + 2;
            let to = from + lines[from..].iter().position(|line| *line == "```").expect("an open fence");
            let shown = lines[from..to].iter().map(|line| line.to_string()).collect();
            out.push(Screen { page: page.clone(), lines: from..to, made, shown });
            at = to;
        }
    }
    out
}

/// A shell that finds the program, in this folder.
fn shell(folder: &Path, script: &str) -> Command {
    let exe = assert_cmd::cargo::cargo_bin!("ohmward");
    let path = format!("{}:{}", exe.parent().unwrap().display(), std::env::var("PATH").unwrap_or_default());
    let mut command = Command::new("sh");
    command.args(["-c", script]).current_dir(folder).env("PATH", path);
    command.env("TERM", "dumb").env("NO_COLOR", "1").env("TZ", "UTC");
    command
}

/// What stands on the screen in the end.
fn made(screen: &Screen) -> Vec<String> {
    let said =
        |key: &str| screen.made.iter().filter(|(k, _)| k == key).map(|(_, what)| what.as_str()).collect::<Vec<_>>();
    let folder = tempfile::tempdir().unwrap();
    match said("in")[..] {
        [] | ["empty"] => {}
        [machine] => {
            let from = root().join("rules/machines").join(machine).join("wiring.yaml");
            fs::copy(from, folder.path().join("wiring.yaml")).unwrap();
        }
        _ => panic!("one place at a time: {screen:?}"),
    }
    for before in said("before") {
        let ran = shell(folder.path(), before).stdin(Stdio::null()).output().unwrap();
        assert!(ran.status.success(), "{before}: {}", String::from_utf8_lossy(&ran.stderr));
    }
    let wide = said("wide").first().copied().unwrap_or(WIDE);
    let script = format!("stty cols {wide} rows 200; {}", said("run")[0]);
    let mut pty = rexpect::session::spawn_command(shell(folder.path(), &script), Some(PATIENCE)).unwrap();
    let mut text = String::new();
    for line in said("say") {
        let before = pty.exp_string("> ").unwrap_or_else(|e| panic!("{:?}: {e}\n{text}", screen.made));
        // (no echo here: what is typed stands where it would stand)
        writeln!(text, "{before}> {line}").unwrap();
        pty.send_line(line).unwrap();
    }
    if !said("say").is_empty() {
        // Whatever still waits: there is no more to say.
        let _ = pty.send_control('d');
    }
    text += &pty.exp_eof().unwrap_or_else(|e| panic!("{:?}: {e}\n{text}", screen.made));
    // The terminal gives a character a byte.
    let bytes: Vec<u8> = text
        .chars()
        .flat_map(|c| u8::try_from(u32::from(c)).map_or_else(|_| c.to_string().into_bytes(), |b| vec![b]))
        .collect();
    let text = String::from_utf8(bytes).unwrap_or(text);
    let lines = text.split('\n').map(|line| line.trim_end_matches('\r'));
    // What a line is written over with is what is seen.
    let mut lines: Vec<String> =
        lines.map(|line| line.rsplit('\r').next().unwrap_or("").trim_end().to_string()).collect();
    while lines.last().is_some_and(String::is_empty) {
        lines.pop();
    }
    let from = lines.iter().position(|line| !line.is_empty()).unwrap_or(0);
    lines.split_off(from)
}

/// A line whose day is that of the page: screens are made on other days.
fn undated(line: &str) -> String {
    const MONTHS: [&str; 12] = [
        "January",
        "February",
        "March",
        "April",
        "May",
        "June",
        "July",
        "August",
        "September",
        "October",
        "November",
        "December",
    ];
    let mut words: Vec<String> = line.split(' ').map(String::from).collect();
    for at in 1..words.len().saturating_sub(1) {
        let year = words[at + 1].trim_end_matches(|c: char| !c.is_ascii_digit()).to_string();
        if MONTHS.contains(&words[at].as_str()) && year.len() == 4 {
            words[at - 1] = words[at - 1].trim_end_matches(|c: char| c.is_ascii_digit()).to_string() + "D";
            words[at] = "M".into();
            words[at + 1] = words[at + 1].replace(&year, "Y");
        }
    }
    for word in &mut words {
        let day = word.len() >= 10 && word.is_char_boundary(10) && {
            let mut numbers = word[..10].split('-').map(|number| number.parse::<u32>().is_ok());
            numbers.by_ref().take(3).all(|number| number) && word[..10].matches('-').count() == 2
        };
        if day {
            *word = "DAY".into();
        }
    }
    words.join(" ")
}

/// Are these lines shown, in order, with what `…` leaves out between?
fn shows(page: &[String], made: &[String]) -> Result<(), String> {
    let mut at = 0;
    let mut gap = false;
    for line in page {
        if line == "…" {
            gap = true;
            continue;
        }
        let same = |made: &String| undated(made) == undated(line.trim_end());
        let found = match gap {
            true => made[at..].iter().position(same),
            false => made.get(at).filter(|made| same(made)).map(|_| 0),
        };
        let Some(skipped) = found else {
            return Err(format!(
                "the page has\n  {line}\nthe program\n  {}",
                made.get(at).map_or("nothing more", String::as_str)
            ));
        };
        at += skipped + 1;
        gap = false;
    }
    if gap || at == made.len() { Ok(()) } else { Err(format!("the program goes on:\n  {}", made[at])) }
}

#[test]
fn screens_are_the_programs_own() {
    let mut wrong = String::new();
    let mut anew: BTreeMap<PathBuf, Vec<Anew>> = BTreeMap::new();
    let all = screens();
    assert!(all.len() > 5, "{}", all.len());
    for screen in all {
        let made = made(&screen);
        if let Err(why) = shows(&screen.shown, &made) {
            let (page, line) = (screen.page.display(), screen.lines.start + 1);
            writeln!(wrong, "{page}, line {line}: {why}\nin all:\n{}\n", made.join("\n")).unwrap();
            if !screen.shown.iter().any(|line| line == "…") {
                anew.entry(screen.page).or_default().push((screen.lines, made));
            }
        }
    }
    if std::env::var("OHMWARD_WRITE").is_ok() {
        for (page, screens) in anew {
            let text = read(&page);
            let mut lines: Vec<String> = text.lines().map(String::from).collect();
            for (range, made) in screens.into_iter().rev() {
                lines.splice(range, made);
            }
            fs::write(page, lines.join("\n") + "\n").unwrap();
        }
    }
    assert!(wrong.is_empty(), "{wrong}");
}

/// Lines of the `sh` blocks of a page, block by block.
fn typed(text: &str) -> Vec<Vec<String>> {
    let mut out = Vec::new();
    let mut block: Option<Vec<String>> = None;
    for line in text.lines() {
        match (&mut block, line) {
            (None, "```sh") => block = Some(Vec::new()),
            (Some(_), "```") => out.extend(block.take()),
            (Some(lines), line) => lines.push(line.to_string()),
            (None, _) => {}
        }
    }
    out
}

/// Every command that a newcomer is told to type runs, from the first to the last of a page, in one folder.
#[test]
fn commands_to_be_typed_run() {
    let mut ran = 0;
    for page in pages().iter().filter(|page| !page.ends_with("DEVELOPERS.md")) {
        let folder = tempfile::tempdir().unwrap();
        let mut place = folder.path().to_path_buf();
        for line in typed(&read(page)).concat() {
            let line = line.split(" # ").next().unwrap_or("").trim();
            if line.is_empty() || line.starts_with("cargo ") {
                continue;
            }
            if let Some(into) = line.strip_prefix("cd ") {
                place.push(into);
                continue;
            }
            let out = shell(&place, line).stdin(Stdio::null()).output().unwrap();
            let told = String::from_utf8_lossy(&out.stderr);
            assert!(out.status.code().is_some_and(|code| code < 2), "{page:?}: {line}: {told}");
            ran += 1;
        }
    }
    assert!(ran >= 4, "{ran}");
}

/// Commands and options that the pages speak of exist.
#[test]
fn options_that_are_spoken_of_exist() {
    let help = |args: &[&str]| {
        let out = Command::new(assert_cmd::cargo::cargo_bin!("ohmward")).args(args).arg("--help").output().unwrap();
        (out.status.success(), String::from_utf8(out.stdout).unwrap())
    };
    let mut wrong = Vec::new();
    let mut seen = 0;
    for page in pages() {
        let text = read(&page);
        let code = text.split('`').skip(1).step_by(2).flat_map(str::lines);
        for line in code.filter_map(|line| line.trim().strip_prefix("ohmward ")) {
            let line = line.split(" # ").next().unwrap_or("");
            let words: Vec<&str> = line.split_whitespace().collect();
            let command = words[0].trim_end_matches(|c: char| !c.is_ascii_alphanumeric());
            if command.is_empty() || command.starts_with('-') || command.chars().all(|c| c.is_ascii_uppercase()) {
                continue;
            }
            let (known, help) = help(&[command]);
            if !known {
                wrong.push(format!("{page:?}: ohmward {line}"));
                continue;
            }
            let sub = words.get(1).filter(|word| help.contains(&format!("\n  {word}")) && !word.starts_with('-'));
            let help = match sub {
                Some(sub) => help + &self::help_of(command, sub),
                None => help,
            };
            for word in words.iter().filter(|word| word.starts_with("--") && word.len() > 2) {
                let option: String = word.chars().take_while(|c| c.is_ascii_alphanumeric() || *c == '-').collect();
                seen += 1;
                if !help.contains(&option) {
                    wrong.push(format!("{page:?}: {option} in: ohmward {line}"));
                }
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
    assert!(seen > 10, "{seen}");
}

fn help_of(command: &str, sub: &str) -> String {
    let out = Command::new(assert_cmd::cargo::cargo_bin!("ohmward")).args([command, sub, "--help"]).output().unwrap();
    String::from_utf8(out.stdout).unwrap()
}

/// Is a licence that gives a choice, or asks for several, one that this project can keep?
fn allowed(licence: &str) -> bool {
    const ALLOWED: [&str; 9] = [
        "MIT",
        "Apache-2.0",
        "Apache-2.0 WITH LLVM-exception",
        "Unlicense",
        "Zlib",
        "BSL-1.0",
        "BSD-3-Clause",
        "Unicode-3.0",
        "MPL-2.0",
    ];
    let licence = licence.replace('/', " OR ");
    // No licence in sight nests deeper than (A OR B) AND C.
    licence
        .split(" AND ")
        .all(|all| all.trim_matches(['(', ')']).split(" OR ").any(|one| ALLOWED.contains(&one.trim())))
}

#[test]
fn every_dependency_is_accounted_for() {
    let host = Command::new("rustc").arg("-vV").output().unwrap();
    let host = String::from_utf8(host.stdout).unwrap();
    let host = host.lines().find_map(|line| line.strip_prefix("host: ")).unwrap();
    let metadata = Command::new(env!("CARGO"))
        .args(["metadata", "--format-version", "1", "--offline", "--locked", "--filter-platform", host])
        .current_dir(root())
        .output()
        .unwrap();
    assert!(metadata.status.success(), "{}", String::from_utf8_lossy(&metadata.stderr));
    let metadata: serde_json::Value = serde_json::from_slice(&metadata.stdout).unwrap();
    let text = read(&root().join("DEVELOPERS.md"));
    let section = text.split("## Dependencies").nth(1).unwrap().split("\n## ").next().unwrap();
    let mut wrong = Vec::new();
    for package in metadata["packages"].as_array().unwrap() {
        let (name, licence) = (package["name"].as_str().unwrap(), package["license"].as_str().unwrap_or(""));
        if !allowed(licence) {
            wrong.push(format!("{name}: licence {licence:?}"));
        }
        if name == "ohmward" {
            let own = package["dependencies"].as_array().unwrap().iter().map(|own| own["name"].as_str().unwrap());
            wrong.extend(
                own.filter(|own| !section.contains(&format!("`{own}`"))).map(|own| format!("{own} is not justified")),
            );
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
    assert!(!allowed("GPL-3.0-only") && !allowed("MIT AND GPL-2.0") && allowed("(MIT OR GPL-2.0) AND Unicode-3.0"));
}

#[test]
fn what_is_left_out_and_what_day_it_is_do_not_count() {
    let lines = |text: &str| text.lines().map(String::from).collect::<Vec<_>>();
    let made = lines("a\nb\nc\n## 3 May 2026: d");
    assert!(shows(&lines("a\n…\n## 24 November 2025: d"), &made).is_ok());
    assert!(shows(&lines("a\n…"), &made).is_ok() && shows(&lines("a"), &made).is_err());
    assert!(shows(&lines("a\nc"), &made).is_err() && shows(&lines("a\nb\nc\n## 3 May 2026: e"), &made).is_err());
}
