//! What a wire's contacts usually mean: a guess, and told as one. `rules/learn.yaml` holds the patterns.

use crate::text::span::Source;
use crate::text::words::nearest;
use crate::text::yaml::{self, Node, Value};
use std::sync::OnceLock;

/// The table.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Words {
    /// What a position is, and words for it.
    positions: Vec<(String, Vec<String>)>,
    springs: Vec<String>,
    guesses: Vec<Guess>,
}

#[derive(Clone, Debug, Default, PartialEq)]
struct Guess {
    within: Vec<String>,
    without: Vec<String>,
    says: String,
}

const BUILTIN: &str = include_str!("../../../rules/learn.yaml");

impl Words {
    /// The table that is compiled in; a test reads it, so it is whole.
    pub fn builtin() -> &'static Words {
        static WORDS: OnceLock<Words> = OnceLock::new();
        WORDS.get_or_init(|| {
            let source = Source::new("rules/learn.yaml", BUILTIN);
            yaml::parse(&source).ok().and_then(|tree| Words::of(&tree)).unwrap_or_default()
        })
    }

    fn of(tree: &Node) -> Option<Words> {
        let mut words = Words::default();
        for (name, node) in pairs(get(tree, "positions")?)? {
            words.positions.push((name.to_owned(), list(node)?));
        }
        words.springs = list(get(tree, "springs")?)?;
        for (_, node) in pairs(get(tree, "guesses")?)? {
            let Value::Scalar(says) = &get(node, "says")?.value else { return None };
            let without = get(node, "without").map_or(Some(Vec::new()), list)?;
            words.guesses.push(Guess { within: list(get(node, "in")?)?, without, says: says.clone() });
        }
        Some(words)
    }

    /// What a position is, by its name.
    fn role(&self, name: &str) -> Option<&str> {
        let lower = name.to_lowercase();
        self.positions.iter().find(|(_, words)| words.contains(&lower)).map(|(role, _)| role.as_str())
    }

    /// Is nothing switched on there, by its name?
    pub fn rests(&self, name: &str) -> bool {
        self.role(name) == Some("rest")
    }

    /// Does it spring back, by its name?
    pub fn springs(&self, name: &str) -> bool {
        self.springs.contains(&name.to_lowercase())
    }

    /// Guesses about who is joined in which positions: `joined[position]` are groups of wires.
    pub fn guess(&self, wires: &[String], positions: &[&str], joined: &[Vec<Vec<usize>>]) -> Vec<String> {
        let n = wires.len();
        let meets = |a: usize, b: usize| -> Vec<usize> {
            let both = |group: &Vec<usize>| group.contains(&a) && group.contains(&b);
            (0..positions.len()).filter(|&p| joined[p].iter().any(both)).collect()
        };
        // Wires that ever meet are one pole; the wire that most others meet is its common one.
        let mut told: Vec<(usize, Vec<usize>, Vec<usize>)> = Vec::new();
        let mut seen = vec![false; n];
        for first in 0..n {
            if std::mem::replace(&mut seen[first], true) {
                continue;
            }
            let mut pole = vec![first];
            let mut at = 0;
            while at < pole.len() {
                for (other, seen) in seen.iter_mut().enumerate() {
                    if !*seen && !meets(pole[at], other).is_empty() {
                        *seen = true;
                        pole.push(other);
                    }
                }
                at += 1;
            }
            let weight = |wire: usize| -> (usize, usize) {
                let with: Vec<usize> = pole.iter().filter(|&&o| o != wire).map(|&o| meets(wire, o).len()).collect();
                (with.iter().filter(|&&count| count > 0).count(), with.iter().sum())
            };
            let Some(&common) = pole.iter().rev().max_by_key(|&&wire| weight(wire)) else { continue };
            for &wire in pole.iter().filter(|&&wire| wire != common) {
                let where_ = meets(common, wire);
                match told.iter_mut().find(|(c, _, p)| *c == common && *p == where_) {
                    Some((_, list, _)) => list.push(wire),
                    None => told.push((common, vec![wire], where_)),
                }
            }
        }
        let all: Vec<&str> = positions.iter().filter_map(|name| self.role(name)).collect();
        let mut out = Vec::new();
        for (common, list, where_) in told {
            if where_.is_empty() || where_.len() == positions.len() {
                continue;
            }
            let roles: Option<Vec<&str>> = where_.iter().map(|&p| self.role(positions[p])).collect();
            let Some(roles) = roles else { continue };
            let fits = |guess: &&Guess| {
                guess.within.iter().all(|role| roles.contains(&role.as_str()))
                    && roles.iter().all(|role| guess.within.iter().any(|within| within == role))
                    && guess.without.iter().all(|role| all.contains(&role.as_str()))
            };
            if let Some(guess) = self.guesses.iter().find(fits) {
                let names: Vec<&str> = list.iter().chain([&common]).map(|&wire| wires[wire].as_str()).collect();
                let at: Vec<&str> = where_.iter().map(|&p| positions[p]).collect();
                out.push(format!("{} join only in {}: likely {}", and(&names), and(&at), guess.says));
            }
        }
        out
    }

    /// The kind of part in a catalogue that such a name speaks of: `main-key` is a key switch.
    pub fn kind<'k>(name: &str, kinds: impl Iterator<Item = (&'k str, &'k [String])>) -> Option<&'k str> {
        let words: Vec<String> = name.to_lowercase().split(['-', '_', ' ']).map(str::to_owned).collect();
        let speaks = |kind: &str| {
            let kind = kind.to_lowercase();
            kind.split([' ', '-']).any(|word| word != "switch" && words.iter().any(|own| own == word))
        };
        let found: Vec<&str> =
            kinds.filter(|(kind, also)| speaks(kind) || also.iter().any(|a| speaks(a))).map(|(kind, _)| kind).collect();
        nearest(name, found.iter().copied()).or(found.first().copied())
    }
}

/// `a, b and c`.
pub(super) fn and(list: &[&str]) -> String {
    match list {
        [] => String::new(),
        [one] => (*one).to_owned(),
        [head @ .., last] => format!("{} and {last}", head.join(", ")),
    }
}

fn pairs(node: &Node) -> Option<Vec<(&str, &Node)>> {
    let Value::Map(pairs) = &node.value else { return None };
    Some(pairs.iter().map(|(key, node)| (key.text.as_str(), node)).collect())
}

fn get<'n>(node: &'n Node, key: &str) -> Option<&'n Node> {
    pairs(node)?.into_iter().find(|(name, _)| *name == key).map(|(_, node)| node)
}

fn list(node: &Node) -> Option<Vec<String>> {
    let Value::List(items) = &node.value else { return None };
    let text = |item: &Node| match &item.value {
        Value::Scalar(text) => Some(text.to_lowercase()),
        _ => None,
    };
    items.iter().map(text).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_table_is_whole() {
        let words = Words::builtin();
        assert!(words.positions.len() > 5 && words.guesses.len() > 5 && words.springs("Start") && words.rests("OFF"));
        for guess in &words.guesses {
            for role in guess.within.iter().chain(&guess.without) {
                assert!(words.positions.iter().any(|(name, _)| name == role), "{role}");
            }
        }
    }

    #[test]
    fn a_key_is_told_as_people_know_it() {
        let wires = ["white", "blue", "red", "black", "spare"].map(String::from);
        let on = vec![vec![0, 1]];
        let guesses = Words::builtin().guess(
            &wires,
            &["off", "on", "start"],
            &[vec![vec![2, 3]], on.clone(), vec![vec![0, 1], vec![2, 3]]],
        );
        assert_eq!(guesses, ["blue and white join only in on and start: likely the ignition feed"]);
        let shed = Words::builtin().guess(&wires, &["off", "on", "start"], &[vec![], on, vec![]]);
        assert!(shed[0].contains("shed while cranking"), "{shed:?}");
    }
}
