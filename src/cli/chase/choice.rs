//! Answers that need no meter: one of several choices, yes or no.

use crate::cli::prompt::screen::key;

/// The choice that a typed answer means: its key, its text, the beginning of it.
pub fn choose(text: &str, choices: &[String]) -> Result<String, String> {
    let typed = plain(text);
    let by_key = choices.iter().enumerate().find(|(i, _)| key(*i) == typed).map(|(_, choice)| choice);
    let exact = choices.iter().find(|choice| plain(choice) == typed);
    if let Some(choice) = exact.or(by_key) {
        return Ok(choice.clone());
    }
    if ["dont know", "dunno", "no idea", "dk", "not sure"].contains(&typed.as_str())
        && let Some(choice) = choices.iter().find(|choice| plain(choice) == "dont know")
    {
        return Ok(choice.clone());
    }
    let fits = |test: &dyn Fn(&str) -> bool| -> Option<String> {
        let mut found = choices.iter().filter(|choice| test(&plain(choice)));
        match (found.next(), found.next()) {
            (Some(only), None) => Some(only.clone()),
            _ => None,
        }
    };
    // "y" for "yes", "left" for "lamp-left": only if one choice fits.
    fits(&|choice| choice.starts_with(&typed))
        .or_else(|| fits(&|choice| choice.split([' ', '-', ',']).any(|word| word == typed)))
        .or_else(|| {
            let plain: Vec<String> = choices.iter().map(|choice| self::plain(choice)).collect();
            let near = ohmward::text::words::nearest(&typed, plain.iter().map(String::as_str))?;
            // A slip of typing, not another word.
            let close = near.chars().count().abs_diff(typed.chars().count()) <= 2 && typed.chars().count() > 3;
            close.then(|| choices[plain.iter().position(|p| p == near).unwrap_or(0)].clone())
        })
        .ok_or_else(|| {
            // The question comes again with its choices; here only what to press.
            let numbered = choices.iter().filter(|choice| plain(choice) != "dont know").count();
            let or = if numbered < choices.len() { ", or ?" } else { "" };
            let last = if numbered > 1 { format!(" to {}", key(numbered - 1)) } else { String::new() };
            format!("\"{}\" is none of the choices: press {}{last}{or}", text.trim(), key(0))
        })
}

/// Yes or no to "did it cure?", with fuses found blown: `no, main-fuse`.
pub fn cured(text: &str, known: &dyn Fn(&str) -> Option<String>) -> Result<(bool, Vec<String>), String> {
    let lower = text.to_lowercase();
    let mut words = lower.split([' ', ',', ';', ':']).filter(|word| !word.is_empty());
    let cured = match words.next() {
        Some("yes" | "y" | "yep" | "cured" | "gone" | "works" | "ok") => true,
        Some("no" | "n" | "nope" | "same" | "still") => false,
        _ => return Err("yes or no; with a fuse that you found blown: no main-fuse".into()),
    };
    let mut blown = Vec::new();
    for word in words {
        match known(word) {
            Some(name) => blown.push(name),
            // The words around a name: "no, but F3 had blown".
            None if [
                "but", "and", "the", "had", "was", "is", "blown", "blew", "fuse", "not", "there", "it", "did", "cure",
            ]
            .contains(&word) => {}
            None => return Err(format!("\"{word}\" is no fuse of this machine")),
        }
    }
    Ok((cured, blown))
}

fn plain(text: &str) -> String {
    text.trim().to_lowercase().replace(['\'', '’'], "")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_choice_is_met_by_key_text_or_beginning() {
        let choices = ["yes", "no", "lamp-left", "lamp-right", "don't know"].map(String::from).to_vec();
        for (typed, wanted) in [
            ("1", "yes"),
            ("y", "yes"),
            ("NO", "no"),
            ("left", "lamp-left"),
            ("lamp-rihgt", "lamp-right"),
            ("5", "don't know"),
            ("dont know", "don't know"),
            ("dunno", "don't know"),
        ] {
            assert_eq!(choose(typed, &choices).as_deref(), Ok(wanted), "{typed}");
        }
        for typed in ["lamp", "0", "", "maybe"] {
            assert!(choose(typed, &choices).is_err(), "{typed}");
        }
    }

    #[test]
    fn a_blown_fuse_is_named_with_the_answer() {
        let known = |word: &str| (word == "f3").then(|| "F3".to_string());
        assert_eq!(cured("Yes", &known), Ok((true, vec![])));
        assert_eq!(cured("no, but F3 had blown", &known), Ok((false, vec!["F3".into()])));
        assert!(cured("no, F9", &known).is_err());
        assert!(cured("perhaps", &known).is_err());
    }
}
