//! What busy hands type: `y`, `n`, `all good`, `5=6`, `7 dead`, `4+6`.

/// An answer, ways by name.
#[derive(Clone, Debug, PartialEq)]
pub enum Said {
    /// As told.
    Yes,
    /// Silent where it should beep; nothing came out when pulled.
    No,
    /// This and all that follow as told.
    AllGood,
    /// The first beeps at the far end of the second.
    Goes(String, String),
    /// It beeps nowhere; without a name the one that is asked about.
    Dead(Option<String>),
    /// The two beep together.
    Joined(String, String),
    /// A way by itself.
    Name(String),
    /// Leave it out.
    Skip,
}

/// Words that are explained by `help`.
pub const HELP: &str = "\
y            as told: it beeps, and the drag is silent
n            silent: the far ends are searched
all good     this one and all the rest were touched and are as told
5=6          way 5 beeps at the far end of way 6
7 dead       way 7 beeps nowhere
4+6          ways 4 and 6 beep together
skip, back, note …, stop";

/// Reads an answer.
pub fn read(text: &str) -> Result<Said, String> {
    let lower = text.trim().to_lowercase();
    let two = |sign: char| {
        let (a, b) = lower.split_once(sign)?;
        let (a, b) = (a.trim(), b.trim());
        (!a.is_empty() && !b.is_empty()).then(|| (a.to_string(), b.to_string()))
    };
    Ok(match lower.as_str() {
        "y" | "yes" | "ok" | "beep" | "beeps" | "good" => Said::Yes,
        "n" | "no" | "silent" | "no beep" | "none" => Said::No,
        "all good" | "all" | "all ok" | "rest good" => Said::AllGood,
        "dead" | "nowhere" => Said::Dead(None),
        "skip" | "s" => Said::Skip,
        "" => return Err("y if it is as told, n if it is silent; 5=6, 7 dead, 4+6, all good. help: all words".into()),
        _ => {
            let rest = lower.strip_suffix("dead").or_else(|| lower.strip_suffix("nowhere")).map(str::trim);
            if let Some(name) = rest.filter(|name| !name.is_empty()) {
                Said::Dead(Some(name.to_string()))
            } else if let Some((a, b)) = two('=') {
                Said::Goes(a, b)
            } else if let Some((a, b)) = two('+') {
                Said::Joined(a, b)
            } else {
                Said::Name(lower)
            }
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn busy_hands_are_understood() {
        for (text, said) in [
            ("Y", Said::Yes),
            (" silent ", Said::No),
            ("ALL GOOD", Said::AllGood),
            ("5=6", Said::Goes("5".into(), "6".into())),
            ("5 = a6", Said::Goes("5".into(), "a6".into())),
            ("7 dead", Said::Dead(Some("7".into()))),
            ("dead", Said::Dead(None)),
            ("4+6", Said::Joined("4".into(), "6".into())),
            ("6", Said::Name("6".into())),
        ] {
            assert_eq!(read(text), Ok(said), "{text}");
        }
        assert!(read("  ").is_err());
        assert_eq!(read("5="), Ok(Said::Name("5=".into())));
    }
}
