//! `ohmward new`: a folder to begin with.

use super::error::Failure;
use super::exit::Exit;
use super::{Context, machines, store};
use std::path::{Path, PathBuf};

/// Make a folder with a wiring file to begin with
///
/// The built-in machines are inventions, whole and solvable: change them into yours row by row. `empty` gives
/// a file that explains itself. Nothing that stands there already is overwritten.
///
/// Example: ohmward new orchard-cart my-cart
#[derive(clap::Args)]
pub struct Args {
    /// A built-in machine, or `empty`; without it the machines are listed
    #[arg(value_name = "MACHINE")]
    machine: Option<String>,
    /// The folder to make; default: here
    #[arg(value_name = "FOLDER")]
    folder: Option<PathBuf>,
}

/// A wiring file with one circuit, each section explained.
const EMPTY: &str = "\
# The wiring as it really is. One row for one thing that you see on the bench; see README.md for every form.
machine: My machine
bench: {meter: [volts, ohms, beep], leads: 1 m}
chassis: [frame]
places:
  dash: easy
  engine-bay: 2 min

parts:                                   # kind, ratings, place
  battery: lead-acid battery, 12 V, 14 Ah, engine-bay
  main-fuse: fuse, 20 A, engine-bay
  horn-push: push switch, dash
  horn: horn, 3.5 A, engine-bay

wires:                                   # from to to, colour, size, length
  - battery.pos to main-fuse.in, red, 4 mm2, 0.3 m
  - battery.neg to G1, black, 4 mm2, 0.3 m
  - main-fuse.out to horn-push.a, red, 1.5 mm2, 2 m
  - horn-push.b to horn.feed, brown, 1.5 mm2, 2 m
grounds:
  G1: engine-bay, on frame, [horn.ground]
";

/// Runs the command.
pub fn run(args: &Args, context: &mut Context) -> Result<Exit, Failure> {
    let Some(name) = &args.machine else {
        return list(context);
    };
    let folder = args.folder.clone().unwrap_or_else(|| PathBuf::from("."));
    let path = put(name, &folder)?;
    if context.json {
        context.out.json(&serde_json::json!({"machine": name, "wiring": path.display().to_string()}))?;
    } else {
        context.out.line(format!("{} is written.", path.display()))?;
        let go = if folder == Path::new(".") { String::new() } else { format!("cd {}; ", folder.display()) };
        context.out.line(format!("Next: {go}ohmward check, then ohmward chase \"what is wrong, in your words\""))?;
    }
    Ok(Exit::Done)
}

/// Writes a machine's wiring file into a folder; refuses to overwrite one.
pub fn put(name: &str, folder: &Path) -> Result<PathBuf, Failure> {
    let text = if name.eq_ignore_ascii_case("empty") { EMPTY } else { machines::wiring(name)? };
    std::fs::create_dir_all(folder)
        .map_err(|error| Failure::plain(format!("cannot make the folder {}: {error}", folder.display())))?;
    let path = folder.join("wiring.yaml");
    if path.exists() {
        return Err(Failure::hinted(
            format!("{} stands there already; it is left as it is", path.display()),
            format!("name another folder: ohmward new {name} FOLDER"),
        ));
    }
    store::replace(&path, text.as_bytes())?;
    Ok(path)
}

fn list(context: &mut Context) -> Result<Exit, Failure> {
    let names: Vec<&str> = machines::names().into_iter().chain(["empty"]).collect();
    if context.json {
        context.out.json(&serde_json::json!(names))?;
    } else {
        for name in names {
            context.out.line(name)?;
        }
    }
    Ok(Exit::Done)
}
