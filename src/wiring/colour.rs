//! Colours: plain words, codes of the catalogue, the maker's letters once the file declares them.

use super::fields::Text;
use crate::catalogue::Catalogue;
use crate::text::problem::Problem;
use crate::text::words::nearest;
use indexmap::IndexMap;

/// Colours that this file may use.
pub(super) struct Colours<'a> {
    catalogue: &'a Catalogue,
    /// Letters in lower case to a plain word.
    declared: IndexMap<String, String>,
}

/// Why a text is no colour.
pub(super) enum NoColour {
    /// Not one at all.
    Stranger,
    /// Letters that differ from maker to maker.
    Undeclared(Problem),
}

impl<'a> Colours<'a> {
    pub fn new(catalogue: &'a Catalogue, rows: &[(Text, Text)], problems: &mut Vec<Problem>) -> Self {
        let mut colours = Colours { catalogue, declared: IndexMap::new() };
        let mut declared = IndexMap::new();
        for (code, word) in rows {
            match colours.read(&word.text, word) {
                Ok(word) => {
                    declared.insert(code.lower(), word);
                }
                Err(NoColour::Undeclared(problem)) => problems.push(problem),
                Err(NoColour::Stranger) => problems.push(colours.stranger(word)),
            }
        }
        colours.declared = declared;
        colours
    }

    /// The colour in plain words, stripes behind a `/`.
    pub fn read(&self, text: &str, at: &Text) -> Result<String, NoColour> {
        match self.one(text, at) {
            Err(NoColour::Stranger) => {}
            other => return other,
        }
        let plain = text.replace(" with ", "/").replace(" stripes", "").replace(" stripe", "").replace(" tracer", "");
        for separator in ['/', '-', ' '] {
            if plain.contains(separator) {
                let pieces: Result<Vec<String>, NoColour> =
                    plain.split(separator).map(|piece| self.one(piece.trim(), at)).collect();
                match pieces {
                    Ok(pieces) if pieces.len() <= 3 => return Ok(pieces.join("/")),
                    Err(NoColour::Undeclared(problem)) => return Err(NoColour::Undeclared(problem)),
                    _ => {}
                }
            }
        }
        // Two codes run together, as IEC 60757 writes green-yellow: GNYE.
        if plain.len() == 4 && plain.bytes().all(|b| b.is_ascii_uppercase()) {
            let (first, second) = plain.split_at(2);
            if let (Ok(first), Ok(second)) = (self.one(first, at), self.one(second, at)) {
                return Ok(format!("{first}/{second}"));
            }
        }
        Err(NoColour::Stranger)
    }

    fn one(&self, text: &str, at: &Text) -> Result<String, NoColour> {
        let lower = text.trim().to_lowercase();
        if let Some(word) = self.declared.get(&lower) {
            return Ok(word.clone());
        }
        let colours = &self.catalogue.colours;
        if let Some(colour) = colours.iter().find(|c| c.name.eq_ignore_ascii_case(&lower)) {
            return Ok(colour.name.clone());
        }
        let mut fits = colours.iter().filter(|c| c.also.iter().any(|a| a.eq_ignore_ascii_case(&lower)));
        let code = (1..=3).contains(&lower.len()) && text.trim().bytes().all(|b| b.is_ascii_uppercase());
        match (fits.next(), fits.next()) {
            (Some(colour), None) => return Ok(colour.name.clone()),
            (None, _) if !code => {}
            _ => {
                let code = text.trim();
                let text = format!("the code {code} means one colour to one maker and another to the next");
                let help = format!("say once in the file what it is here: colours: {{{code}: black}}");
                return Err(NoColour::Undeclared(Problem::at(at.span, text).help(help)));
            }
        }
        for shade in ["light ", "dark ", "pale "] {
            if let Some(rest) = lower.strip_prefix(shade)
                && let Ok(word) = self.one(rest, at)
            {
                return Ok(format!("{shade}{word}"));
            }
        }
        Err(NoColour::Stranger)
    }

    /// A text that should have been a colour.
    pub fn stranger(&self, text: &Text) -> Problem {
        let near = nearest(&text.text, self.words());
        let problem = Problem::at(text.span, format!("\"{}\" is no colour known here", text.text));
        problem.help(
            near.map_or_else(|| "write it in plain words: black/white".to_owned(), |near| format!("nearest: {near}")),
        )
    }

    /// Plain words for colours, nicknames included, codes not.
    pub fn words(&self) -> impl Iterator<Item = &str> {
        let colours = self.catalogue.colours.iter();
        colours.flat_map(|c| std::iter::once(&c.name).chain(c.also.iter().filter(|a| a.len() > 3))).map(String::as_str)
    }
}
