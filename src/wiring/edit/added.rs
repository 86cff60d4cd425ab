//! A part said in a few words: `heated grips, 4 A, on F3, ground G1`; what was not said is taken from what is near,
//! and its rows are marked `?`.

use super::super::fields::is_name;
use super::super::raw;
use super::{Change, Draft};
use crate::catalogue::{Catalogue, ElementType, Kind};
use crate::netlist::{Netlist, Part};
use crate::text::problem::Problem;
use crate::text::quantity::{self, Unit};
use crate::text::words::{a, nearest, singular};
use crate::text::yaml;
use indexmap::IndexMap;

/// What a part's feed may be called, the likeliest first.
const FEEDS: [&str; 5] = ["feed", "+", "15", "in", "a"];
/// What its ground may be called.
const GROUNDS: [&str; 3] = ["ground", "31", "-"];
/// Volts of a machine whose file names none.
const VOLTS: f64 = 12.0;
/// Above this share of difference a part of other volts than the machine's is meant.
const OTHER_VOLTS: f64 = 0.2;

/// A part to be added.
#[derive(Clone, Debug, PartialEq)]
pub struct Addition {
    /// Its name.
    pub part: String,
    /// The rows.
    pub changes: Vec<Change>,
    /// What was taken for granted, in words: `feed F3`, `ground G1`.
    pub assumed: Vec<String>,
}

/// A wire's far end.
struct End {
    pin: String,
    point: String,
}

impl Addition {
    /// Reads a few words: kind, ratings, place, `on FEED`, `ground POINT`, `by SWITCH [at PLACE]`, `PIN to POINT`.
    ///
    /// # Errors
    ///
    /// What is missing or not known.
    pub fn read(text: &str, draft: &Draft) -> Result<Addition, Problem> {
        let net = draft.netlist();
        let mut fields = text.split(',').map(str::trim).filter(|field| !field.is_empty());
        let first = fields.next().unwrap_or_default();
        let (name, words) = match first.split_once(':') {
            Some((name, words)) => (Some(name.trim()), words.trim()),
            None => (None, first),
        };
        let (kind, called, figure) = kind_of(words, draft)?;
        let mut row = vec![called.clone()];
        let (mut feed, mut ground, mut switch, mut place) = (None, None, None, None);
        let fields: Vec<&str> = figure.into_iter().chain(fields).collect();
        let said = fields.iter().find_map(|field| quantity::parse(field).ok().filter(|q| q.unit == Unit::Volt));
        let volts = said.map_or_else(|| machine_volts(draft), |said| said.value);
        let mut ends: Vec<End> = Vec::new();
        for field in fields {
            let (word, rest) = field.split_once(' ').map_or((field, ""), |(word, rest)| (word, rest.trim()));
            match word.to_lowercase().as_str() {
                "on" | "from" if !rest.is_empty() => feed = Some(rest),
                "ground" | "grounded" | "earth" if !rest.is_empty() => {
                    ground = Some(rest.trim_start_matches("at ").trim_start_matches("to ").trim_start_matches("on "));
                }
                "by" if !rest.is_empty() => switch = Some(rest),
                _ => match field.split_once(" to ").and_then(|(pin, point)| Some((pin_of(kind, pin)?, point))) {
                    Some((pin, point)) => ends.push(End { pin, point: point.trim().into() }),
                    None => {
                        place = place.or_else(|| net.places.keys().find(|known| known.eq_ignore_ascii_case(field)));
                        row.push(rating(kind, field, volts));
                    }
                },
            }
        }
        // Parts are rated for the machine that they are in.
        let rated = kind.ratings.values().find(|rating| rating.unit == Unit::Volt);
        let other = rated.is_some_and(|rating| (rating.default - volts).abs() > OTHER_VOLTS * volts);
        let mut assumed = Vec::new();
        if said.is_none() && other {
            row.push(format!("{} V", round(volts)));
            assumed.push(format!("{} V", round(volts)));
        }
        let part = free_name(net, name.map(str::to_owned).unwrap_or_else(|| slug(bare(words))))?;
        let mut out = Addition { part: part.clone(), changes: Vec::new(), assumed };
        if place.is_none() {
            // Where its ground is, it is; else where its feed is.
            let said = [ground, feed].into_iter().flatten().find_map(|name| place_of(net, name));
            if let Some(said) = said {
                out.assumed.push(format!("place {said}"));
                row.push(said.clone());
                place = Some(said);
            }
        }
        let place = place.map(String::as_str);
        let open = |pin: &String, ends: &[End]| !ends.iter().any(|end| end.pin == *pin);
        if let Some(pin) = first_pin(kind, &FEEDS).filter(|pin| open(pin, &ends)) {
            let point = match feed {
                Some(feed) => feed_point(net, feed)?,
                None => out.near(nearest_by(draft, place, feeds(net, draft.catalogue())), "feed", "on F3")?,
            };
            ends.insert(0, End { pin, point });
        }
        if let Some(pin) = first_pin(kind, &GROUNDS).filter(|pin| open(pin, &ends)) {
            let point = match ground {
                Some(ground) => ground.to_owned(),
                None => out.near(nearest_by(draft, place, grounds(net)), "ground", "ground G1")?,
            };
            ends.push(End { pin, point });
        }
        let left: Vec<&str> = kind.pins.keys().filter(|pin| open(pin, &ends)).map(String::as_str).collect();
        if let Some(pin) = left.first() {
            let says = format!("{} also has {}", a(&kind.name), left.join(", "));
            return Err(Problem::whole(says).help(format!("say where it goes: \"{text}, {pin} to …\"")));
        }
        out.changes.push(Change::row("parts", format!("{part}: {}", row.join(", "))));
        if let Some(words) = switch {
            let feed = ends.first_mut().filter(|_| first_pin(kind, &FEEDS).is_some());
            out.switched(words, draft, feed, place)?;
        }
        for End { pin, point } in ends {
            let own = format!("{part}.{pin}");
            let (from, to) = if first_pin(kind, &FEEDS).as_ref() == Some(&pin) { (point, own) } else { (own, point) };
            out.changes.push(Change::row("wires", format!("{from} to {to}, ?")));
        }
        Ok(out)
    }

    /// What was found near, noted as taken for granted.
    fn near(&mut self, found: Option<String>, what: &str, example: &str) -> Result<String, Problem> {
        let missing = || Problem::whole(format!("nothing is near that its {what} could go to"));
        let found = found.ok_or_else(|| missing().help(format!("say it: {example}")))?;
        self.assumed.push(format!("{what} {}", found.trim_end_matches(".out")));
        Ok(found)
    }

    /// A switch in the feed: `toggle switch at dash`.
    fn switched(
        &mut self,
        words: &str,
        draft: &Draft,
        feed: Option<&mut End>,
        place: Option<&str>,
    ) -> Result<(), Problem> {
        let words = words.strip_prefix("a ").unwrap_or(words);
        let (words, at) = words.split_once(" at ").map_or((words, None), |(words, at)| (words, Some(at.trim())));
        let (kind, called, _) = kind_of(words, draft)?;
        let (Some(feed), true) = (feed, ["a", "b"].iter().all(|pin| kind.pins.contains_key(*pin))) else {
            return Err(Problem::whole(format!("{} cannot switch its feed", a(&kind.name)))
                .help("by a toggle switch, by a rocker switch, by a push switch"));
        };
        let name = free_name(draft.netlist(), format!("{}-switch", self.part))?;
        let place = at.or(place).map_or(String::new(), |place| format!(", {place}"));
        self.changes.push(Change::row("parts", format!("{name}: {called}{place}")));
        self.changes.push(Change::row("wires", format!("{} to {name}.a, ?", feed.point)));
        feed.point = format!("{name}.b");
        if kind.pins.contains_key("ground") {
            let near = nearest_by(draft, at, grounds(draft.netlist()));
            let ground = self.near(near, "ground of its switch", "ground G1")?;
            self.changes.push(Change::row("wires", format!("{name}.ground to {ground}, ?")));
        }
        Ok(())
    }
}

/// The kind that words mean, the words that named it, and a figure that stood behind them.
fn kind_of<'d, 't>(words: &'t str, draft: &Draft<'d>) -> Result<(&'d Kind, String, Option<&'t str>), Problem> {
    let words = article(words);
    let cut = words.find(|c: char| c.is_ascii_digit()).filter(|at| *at > 0 && draft.catalogue().kind(words).is_none());
    let (words, figure) = cut.map_or((words, None), |at| (words[..at].trim(), Some(words[at..].trim())));
    let catalogue = draft.catalogue();
    let found = catalogue.kind(words).map(|kind| (kind, words.to_owned()));
    let one = || catalogue.kind(singular(words)).map(|kind| (kind, singular(words).to_owned()));
    if let Some((kind, called)) = found.or_else(one) {
        return Ok((kind, called.to_lowercase(), figure));
    }
    // The last words of what somebody calls it are often its kind: "reading light".
    for (at, _) in words.match_indices(' ') {
        if let Some(kind) = catalogue.kind(words[at..].trim()) {
            return Ok((kind, words[at..].trim().to_lowercase(), figure));
        }
    }
    let known = catalogue.kinds.values().flat_map(|kind| std::iter::once(&kind.name).chain(&kind.also));
    let near = nearest(words, known.map(String::as_str));
    let problem = Problem::whole(format!("there is no kind of part \"{words}\""));
    let name = slug(words);
    Err(match near {
        Some(near) => problem.help(format!("nearest: {near}; a box that only takes current: \"{name}: module, 1 A\"")),
        None => problem.help(format!("say its kind (ohmward kinds): \"{name}: module, 1 A\"")),
    })
}

fn article(words: &str) -> &str {
    words.strip_prefix("a ").or_else(|| words.strip_prefix("an ")).unwrap_or(words)
}

/// The words without an article and without a figure behind them.
fn bare(words: &str) -> &str {
    let words = article(words);
    words.find(|c: char| c.is_ascii_digit()).filter(|at| *at > 0).map_or(words, |at| words[..at].trim())
}

/// A field of the row; watts for amps, or amps for watts, where the kind knows only those.
fn rating(kind: &Kind, field: &str, volts: f64) -> String {
    let has = |unit: Unit| kind.ratings.values().any(|rating| rating.unit == unit);
    match quantity::parse(field) {
        Ok(q) if q.unit == Unit::Amp && !has(Unit::Amp) && has(Unit::Watt) => format!("{} W", round(q.value * volts)),
        Ok(q) if q.unit == Unit::Watt && !has(Unit::Watt) && has(Unit::Amp) => format!("{} A", round(q.value / volts)),
        _ => field.to_owned(),
    }
}

/// What the machine runs on: the volts of its first battery or other source.
fn machine_volts(draft: &Draft) -> f64 {
    let (net, catalogue) = (draft.netlist(), draft.catalogue());
    let volts = |part: &Part| {
        let kind = catalogue.kind(&part.kind)?;
        let source = kind.elements.values().any(|element| element.what == ElementType::Source);
        let (name, rating) = kind.ratings.iter().find(|(_, rating)| source && rating.unit == Unit::Volt)?;
        Some(part.ratings.get(name).map_or(rating.default, |q| q.value))
    };
    let battery = |part: &&Part| part.kind.to_lowercase().ends_with("battery");
    let batteries = net.parts.values().filter(battery);
    batteries.chain(net.parts.values()).find_map(volts).filter(|volts| *volts > 0.0).unwrap_or(VOLTS)
}

/// Three digits are enough for a load.
fn round(value: f64) -> f64 {
    (value * 100.0).round() / 100.0
}

/// The pin that a word means.
fn pin_of(kind: &Kind, word: &str) -> Option<String> {
    let word = word.trim();
    let is = |known: &String| known.eq_ignore_ascii_case(word);
    kind.pins.iter().find(|(pin, also)| is(pin) || also.iter().any(is)).map(|(pin, _)| pin.clone())
}

fn first_pin(kind: &Kind, words: &[&str]) -> Option<String> {
    words.iter().find_map(|word| pin_of(kind, word))
}

fn slug(words: &str) -> String {
    let clean: String = words.to_lowercase().chars().map(|c| if c.is_ascii_alphanumeric() { c } else { '-' }).collect();
    clean.split('-').filter(|piece| !piece.is_empty()).collect::<Vec<_>>().join("-")
}

/// The name, with a number if something has it already.
fn free_name(net: &Netlist, name: String) -> Result<String, Problem> {
    if !is_name(&name) {
        return Err(Problem::whole(format!("\"{name}\" is no name")).help("letters, digits and -"));
    }
    let taken = |name: &str| {
        let is = |known: &String| known.eq_ignore_ascii_case(name);
        net.parts.keys().any(is)
            || net.plugs.keys().any(is)
            || net.wires.keys().any(is)
            || net.sleeves.keys().any(is)
            || net.grounds.keys().any(is)
            || net.pieces.keys().any(is)
    };
    if !taken(&name) {
        return Ok(name);
    }
    Ok((2..).map(|n| format!("{name}-{n}")).find(|name| !taken(name)).unwrap_or(name))
}

/// Where something that a person names is.
fn place_of<'n>(net: &'n Netlist, name: &str) -> Option<&'n String> {
    let is = |known: &String| known.eq_ignore_ascii_case(name);
    let ground = net.grounds.iter().find(|(known, _)| is(known)).map(|(_, ground)| &ground.place);
    let part = || net.parts.iter().find(|(known, _)| is(known)).map(|(_, part)| &part.place);
    let place = ground.or_else(part)?.as_ref()?;
    net.places.keys().find(|known| known.eq_ignore_ascii_case(place))
}

/// The point that `on F3` means: behind a fuse, or a point as it is called.
fn feed_point(net: &Netlist, name: &str) -> Result<String, Problem> {
    let part = net.parts.values().find(|part| part.name.eq_ignore_ascii_case(name));
    match part {
        Some(part) if part.pins.contains_key("out") => Ok(format!("{}.out", part.name)),
        Some(part) => {
            let pins: Vec<&str> = part.pins.keys().map(String::as_str).collect();
            let help = format!("on {}.{}", part.name, pins.first().unwrap_or(&""));
            Err(Problem::whole(format!("{} has several pins: {}", part.name, pins.join(", "))).help(help))
        }
        None if net.point(name).is_some() => Ok(name.to_owned()),
        None => {
            let near = nearest(name, net.feeds.iter().chain(net.parts.keys()).map(String::as_str));
            let feeds: Vec<&str> = net.feeds.iter().map(String::as_str).collect();
            Err(Problem::whole(format!("nothing here is called \"{name}\" to be fed from")).help(match near {
                Some(near) => format!("nearest: {near}"),
                None => format!("on a fuse ({}), or on a point: key.ignition", feeds.join(", ")),
            }))
        }
    }
}

type Near<'n> = (String, Option<&'n String>);

/// What lies behind each fuse, feeds first.
fn feeds<'n>(net: &'n Netlist, catalogue: &Catalogue) -> Vec<Near<'n>> {
    let fuse = |part: &&Part| {
        let kind = catalogue.kind(&part.kind);
        part.pins.contains_key("out") && kind.is_some_and(Kind::is_fuse)
    };
    let mut fuses: Vec<&Part> = net.parts.values().filter(fuse).collect();
    fuses.sort_by_key(|part| !net.feeds.contains(&part.name));
    fuses.into_iter().map(|part| (format!("{}.out", part.name), part.place.as_ref())).collect()
}

fn grounds(net: &Netlist) -> Vec<Near<'_>> {
    net.grounds.iter().map(|(name, ground)| (name.clone(), ground.place.as_ref())).collect()
}

/// The nearest by the runs of the file, else the easiest to get at.
fn nearest_by(draft: &Draft, place: Option<&str>, all: Vec<Near>) -> Option<String> {
    let metres = place.map(|place| metres_from(draft, place)).unwrap_or_default();
    let minutes = |name: &String| draft.netlist().places.get(name).map_or(f64::MAX, |place| place.minutes);
    let far = |there: &Option<&String>| match there {
        Some(name) => (metres.get(&name.to_lowercase()).copied().unwrap_or(f64::MAX), minutes(name)),
        None => (f64::MAX, f64::MAX),
    };
    let order = |a: &Near, b: &Near| {
        let (a, b) = (far(&a.1), far(&b.1));
        a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1))
    };
    all.iter().min_by(|a, b| order(a, b)).map(|(name, _)| name.clone())
}

/// Metres from a place to every other that runs lead to.
fn metres_from(draft: &Draft, place: &str) -> IndexMap<String, f64> {
    let mut out: IndexMap<String, f64> = [(place.to_lowercase(), 0.0)].into();
    let Ok(tree) = yaml::parse(&draft.source) else { return out };
    let (file, _) = raw::read(&draft.source, &tree);
    let runs: Vec<(String, String, f64)> = file
        .runs
        .iter()
        .filter_map(|run| Some((run.from.lower(), run.to.lower(), quantity::parse(&run.length.text).ok()?.value)))
        .flat_map(|(a, b, metres)| [(a.clone(), b.clone(), metres), (b, a, metres)])
        .collect();
    // As often as there are runs, so that the longest way round has been gone.
    for _ in 0..runs.len() {
        for (from, to, metres) in &runs {
            let Some(there) = out.get(from).map(|so_far| so_far + metres) else { continue };
            if out.get(to).is_none_or(|known| there < *known) {
                out.insert(to.clone(), there);
            }
        }
    }
    out
}
