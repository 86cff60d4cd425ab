//! `extend`: sizes against published tables, plans against their own files, and the command as people drive it.

mod command;
mod plans;
mod tables;

/// Rows of a reference table, without its comments and its head.
pub fn rows(text: &str) -> Vec<Vec<String>> {
    let rows = text.lines().filter(|line| !line.starts_with('#') && !line.trim().is_empty()).skip(1);
    rows.map(|line| line.split(',').map(str::to_owned).collect()).collect()
}

/// A figure of a table.
pub fn number(text: &str) -> f64 {
    text.parse().unwrap_or_else(|_| panic!("{text} is no number"))
}
