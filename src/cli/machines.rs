//! Built-in starting machines, compiled in from `rules/machines`.

use super::error::Failure;
use include_dir::{Dir, include_dir};
use ohmward::text::span::Source;
use ohmward::text::words::nearest;
use ohmward::text::yaml::{self, Value};

static MACHINES: Dir = include_dir!("$CARGO_MANIFEST_DIR/rules/machines");

/// The machine offered first.
pub const FIRST: &str = "orchard-cart";

/// Names of all built-in machines.
pub fn names() -> Vec<&'static str> {
    let mut names: Vec<&str> = MACHINES.dirs().filter_map(|dir| dir.path().to_str()).collect();
    names.sort_unstable();
    names
}

/// The wiring file of a built-in machine.
pub fn wiring(name: &str) -> Result<&'static str, Failure> {
    let file = MACHINES.get_file(format!("{}/wiring.yaml", name.to_lowercase()));
    file.and_then(|file| file.contents_utf8()).ok_or_else(|| {
        let hint = match nearest(name, names()) {
            Some(near) => format!("nearest: {near}"),
            None => format!("there are: {}", names().join(", ")),
        };
        Failure::hinted(format!("no built-in machine is called \"{name}\""), hint)
    })
}

/// What a built-in machine is, in one line: the first word of its table of functions.
pub fn about(name: &str) -> Option<String> {
    let text = MACHINES.get_file(format!("{name}/functions.yaml"))?.contents_utf8()?;
    let Value::Map(fields) = yaml::parse(&Source::new("functions.yaml", text)).ok()?.value else { return None };
    fields.into_iter().find(|(key, _)| key.text == "about").and_then(|(_, node)| match node.value {
        Value::Scalar(about) => Some(about),
        _ => None,
    })
}
