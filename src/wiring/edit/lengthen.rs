//! Rows of a file for wires that are made longer: the old colours, lengths and names stay.
//!
//! In a plug's half the wire added stands at the half, and at a way what only that way has. Any other wire is cut at a
//! sleeve near the end that moves; the old piece keeps its name.

use super::super::lower::proof_word;
use super::super::raw::{self, Attr, RawWay, RawWire};
use super::put::{Owner, owner};
use super::{Change, Draft, Refusal};
use crate::netlist::{Joint, Netlist, Way, Wire};
use crate::text::problem::Problem;
use crate::text::quantity::{self, Unit};
use crate::text::yaml;
use indexmap::IndexMap;

/// A wire that is made longer.
#[derive(Clone, Debug, PartialEq)]
pub struct Longer {
    /// Which one.
    pub site: LongerSite,
    /// The wire that is added, as cut, m; one that was added before is taken out and counted in.
    pub length: f64,
    /// Its size, mm².
    pub area: f64,
    /// Its colour; none: not known.
    pub colour: Option<String>,
    /// What joins it to the old one.
    pub joint: Joint,
}

/// Where a wire is made longer.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub enum LongerSite {
    /// In a plug's half, at one of its ways.
    Way {
        /// the plug
        plug: String,
        /// 0 for half a, 1 for half b
        half: usize,
        /// the way
        way: String,
    },
    /// At an end of another wire.
    Wire {
        /// the wire
        wire: String,
        /// 0 for the end named first
        end: usize,
    },
}

impl<'c> Draft<'c> {
    /// The file with these wires made longer: all of them, or none. What is made anew is marked `?`.
    ///
    /// # Errors
    ///
    /// What would be wrong with the changed file.
    pub fn lengthen(&self, longer: &[Longer]) -> Result<Draft<'c>, Box<Refusal>> {
        let tree = yaml::parse(self.source()).map_err(|problem| Refusal::one(self.source(), problem))?;
        let (file, _) = raw::read(self.source(), &tree);
        let mut changes = Vec::new();
        let mut plugs: IndexMap<&str, Vec<(usize, &str, &Longer)>> = IndexMap::new();
        for one in longer {
            match &one.site {
                LongerSite::Way { plug, half, way } => plugs.entry(plug).or_default().push((*half, way, one)),
                LongerSite::Wire { wire, end } => {
                    let Some(known) = self.netlist().wires.get(wire) else {
                        return Err(Refusal::one(
                            self.source(),
                            Problem::whole(format!("there is no wire \"{wire}\"")),
                        ));
                    };
                    changes.extend(
                        cut(self.netlist(), &file, known, *end, one, self.source())
                            .map_err(|problem| Refusal::one(self.source(), problem))?,
                    );
                }
            }
        }
        for (plug, ways) in &plugs {
            changes.extend(self.plug(&file, plug, ways));
        }
        self.with(&changes)
    }

    /// The half's row, and those of its ways.
    fn plug(&self, file: &raw::File, plug: &str, longer: &[(usize, &str, &Longer)]) -> Vec<Change> {
        let (Some(known), Some(raw)) =
            (self.netlist().plugs.get(plug), file.plugs.iter().find(|raw| raw.name.is(plug)))
        else {
            return Vec::new();
        };
        let mut changes = Vec::new();
        let mut common: [Option<(f64, f64, Joint)>; 2] = [None, None];
        // Halves whose row says of the old wires how long they are.
        let mut said = [0, 1].map(|half| says(&raw.halves[half], Unit::Metre));
        for half in 0..2 {
            let here: Vec<&Longer> = longer.iter().filter(|one| one.0 == half).map(|one| one.2).collect();
            let wired = known.ways.values().filter(|way| way.crimped[half].is_some()).count();
            // A half's row speaks of all its ways.
            if here.is_empty() || here.len() < wired {
                continue;
            }
            let most = most_common(&here);
            common[half] = Some(most);
            let stub = stub(self.netlist(), plug, half, &raw.halves[half], most.1);
            said[half] |= stub.iter().any(|stub| stub.ends_with(" m"));
            let fields =
                [known.places[half].clone(), Some(metres(most.0)), Some(area(most.1)), Some(sleeve(most.2).to_owned())];
            let row: Vec<String> = fields.into_iter().flatten().chain(stub).collect();
            let key = ["a", "b"][half].to_owned();
            changes.push(Change::Set { section: "plugs".into(), name: known.name.clone(), key, value: row.join(", ") });
        }
        for row in &raw.ways {
            let here: Vec<(usize, &Longer)> =
                longer.iter().filter(|one| row.way.is(one.1)).map(|one| (one.0, one.2)).collect();
            if !here.is_empty() {
                let stub = |half: usize| {
                    let way =
                        known.ways.get(&row.way.text).filter(|_| !said[half] && !says(&row.added[half], Unit::Metre));
                    guessed(self.netlist(), way?, half, &[])
                };
                let text = way(row, &here, &common, &|half| had_length(&raw.halves[half], row, half), &stub);
                changes.push(Change::PutWay { plug: known.name.clone(), way: row.way.text.clone(), row: text });
            }
        }
        changes
    }
}

/// The length, size and joint that most wires of a half have.
fn most_common(longer: &[&Longer]) -> (f64, f64, Joint) {
    let key = |one: &Longer| (one.length, one.area, one.joint);
    let count = |of: (f64, f64, Joint)| longer.iter().filter(|other| key(other) == of).count();
    let mut best = key(longer[0]);
    for one in longer {
        if count(key(one)) > count(best) {
            best = key(one);
        }
    }
    best
}

/// Was a wire added on this half of the way before?
fn had_length(half: &[Attr], row: &RawWay, index: usize) -> bool {
    let length = |attr: &Attr| {
        attr.role == raw::Role::Length
            || attr.role == raw::Role::Any && quantity::parse(&attr.text.text).is_ok_and(|q| q.unit == Unit::Metre)
    };
    half.iter().chain(&row.added[index]).any(length)
}

/// What the half's row says, or would take for granted, of the old wire left at the sleeve.
fn stub(net: &Netlist, plug: &str, half: usize, attrs: &[Attr], size_now: f64) -> Vec<String> {
    let mut out = stubs(attrs);
    // The old wires stay what they were taken for: only an end of them goes.
    let ways = net.plugs[plug].ways.values().filter(|way| way.crimped[half].is_some());
    let lengths: Vec<Option<f64>> = ways.clone().map(|way| guessed(net, way, half, attrs)).collect();
    if let Some(length) = lengths.first().copied().flatten()
        && lengths.iter().all(|other| *other == Some(length))
    {
        out.push(format!("stub {}", metres(length)));
    }
    let areas: Vec<f64> =
        ways.filter_map(|way| old_wire(net, way.crimped[half].as_ref()?)).map(|wire| wire.area).collect();
    let told = says(attrs, Unit::SquareMillimetre);
    if let Some(&first) = areas.first().filter(|first| !told && (**first - size_now).abs() > 1e-6)
        && areas.iter().all(|other| *other == first)
    {
        out.push(format!("stub {}", area(first)));
    }
    out
}

/// Fields that speak of the old wire at the sleeve.
fn stubs(attrs: &[Attr]) -> Vec<String> {
    let stub = |attr: &Attr| match attr.role {
        raw::Role::Stub => Some(format!("stub {}", attr.text.text)),
        raw::Role::Any if attr.text.text.to_ascii_lowercase().starts_with("stub ") => Some(attr.text.text.clone()),
        _ => None,
    };
    attrs.iter().filter_map(stub).collect()
}

/// Do these fields say a stub's length, or its size?
fn says(attrs: &[Attr], unit: Unit) -> bool {
    stubs(attrs).iter().any(|stub| quantity::parse(&stub[5..]).is_ok_and(|q| q.unit == unit))
}

/// The length that an old wire is taken for, where nothing says it: once a wire is added, a short stub would be.
fn guessed(net: &Netlist, way: &Way, half: usize, attrs: &[Attr]) -> Option<f64> {
    let crimped = way.crimped[half].as_ref()?;
    let wire = old_wire(net, crimped)?;
    (!says(attrs, Unit::Metre) && !wire.length_known && !crimped.0.ends_with("-new")).then_some(wire.length)
}

/// The old wire behind a cavity: the one crimped there, or the one behind its sleeve.
fn old_wire<'n>(net: &'n Netlist, (wire, _): &(String, char)) -> Option<&'n Wire> {
    let old = wire.strip_suffix("-new").map(|base| format!("{base}-old"));
    net.wires.get(&old.unwrap_or_else(|| wire.clone()))
}

/// A plug's row with what is added now.
fn way(
    row: &RawWay,
    here: &[(usize, &Longer)],
    common: &[Option<(f64, f64, Joint)>; 2],
    had: &dyn Fn(usize) -> bool,
    stub: &dyn Fn(usize) -> Option<f64>,
) -> String {
    let text = |text: &Option<super::super::fields::Text>, none: &str| {
        text.as_ref().map_or_else(|| none.to_owned(), |text| text.text.clone())
    };
    // One colour in the row is that of both halves' added wires.
    let other = |half: usize| had(1 - half) && !here.iter().any(|(index, _)| *index == 1 - half);
    let two = here.len() == 2 && here[0].1.colour != here[1].1.colour;
    let own = two || here.iter().any(|(half, _)| other(*half));
    let colour = |one: &Longer| one.colour.clone().unwrap_or_else(|| "none".to_owned());
    let new = match here {
        [(_, one), ..] if !own => {
            let same = row.old.as_ref().is_some_and(|old| one.colour.as_deref() == Some(old.text.as_str()));
            if same || one.colour.is_none() { "same".to_owned() } else { colour(one) }
        }
        _ => text(&row.new, "same"),
    };
    let mark = row.proof.as_ref().map_or("?", |mark| match proof_word(&mark.text) {
        Some(crate::netlist::Proof::NotFitted | crate::netlist::Proof::Capped) => mark.text.as_str(),
        _ => "?",
    });
    let mut fields = vec![
        row.way.text.clone(),
        text(&row.old, "none"),
        new,
        text(&row.from, "none"),
        text(&row.to, "none"),
        mark.to_owned(),
    ];
    for (half, letter) in ["a", "b"].iter().enumerate() {
        let Some((_, one)) = here.iter().find(|(index, _)| *index == half) else {
            fields.extend(row.added[half].iter().map(|attr| format!("{letter} {}", attr.text.text)));
            continue;
        };
        let (length, size, joint) = common[half].map_or((None, None, None), |(l, a, j)| (Some(l), Some(a), Some(j)));
        let says = |text: &Option<super::super::fields::Text>| {
            text.as_ref().is_some_and(|text| one.colour.as_deref().is_some_and(|colour| text.is(colour)))
        };
        let same = row.new.as_ref().is_none_or(|new| new.is("same"));
        let said = if same { says(&row.old) } else { says(&row.new) };
        if own && one.colour.is_some() && !said {
            fields.push(format!("{letter} {}", colour(one)));
        }
        if length != Some(one.length) {
            fields.push(format!("{letter} {}", metres(one.length)));
        }
        if size != Some(one.area) {
            fields.push(format!("{letter} {}", area(one.area)));
        }
        if joint.is_some_and(|joint| joint != one.joint) || joint.is_none() && one.joint != Joint::CrimpSleeve {
            fields.push(format!("{letter} {}", sleeve(one.joint)));
        }
        fields.extend(stubs(&row.added[half]).iter().map(|stub| format!("{letter} {stub}")));
        fields.extend(stub(half).map(|length| format!("{letter} stub {}", metres(length))));
    }
    fields.join(", ")
}

/// A wire cut near one of its ends: the old piece, a sleeve, the new piece.
fn cut(
    net: &Netlist,
    file: &raw::File,
    wire: &Wire,
    end: usize,
    one: &Longer,
    source: &crate::text::span::Source,
) -> Result<Vec<Change>, Problem> {
    let raw: RawWire = match owner(file, wire) {
        Owner::Row => file.wires.iter().find(|row| row.span == wire.span).cloned().unwrap_or_default(),
        Owner::Item(section, whose) => {
            let items = match section {
                "grounds" => file.grounds.iter().find(|g| g.name.text == whose).map(|g| &g.items),
                _ => file.feeds.iter().find(|f| f.part.name.text == whose).map(|f| &f.items),
            };
            let item = items.and_then(|items| items.iter().find(|item| item.span == wire.span));
            RawWire { attrs: item.map(|item| item.attrs.clone()).unwrap_or_default(), ..RawWire::default() }
        }
        Owner::Way(plug, way) => {
            let says = format!("{} is made by way {way} of {plug}", wire.name);
            return Err(Problem::whole(says).help(format!("make {plug} longer instead")));
        }
        Owner::Strap => {
            let says = format!("{} is a strap of the chassis", wire.name);
            return Err(Problem::whole(says).help("a strap is replaced by a longer one, not joined"));
        }
    };
    let ends = [net.point_name(wire.from).to_owned(), net.point_name(wire.to).to_owned()];
    let taken = |name: &str| {
        net.wires.keys().chain(net.sleeves.keys()).chain(net.parts.keys()).any(|known| known.eq_ignore_ascii_case(name))
    };
    let free = |tail: &str| {
        let first = format!("{}-{tail}", wire.name);
        if taken(&first) {
            (2..).map(|n| format!("{first}-{n}")).find(|name| !taken(name)).unwrap_or(first)
        } else {
            first
        }
    };
    let (sleeve_name, new_name) = (free("sleeve"), free("new"));
    let mut old_ends = ends.clone();
    old_ends[end].clone_from(&sleeve_name);
    let mut new_ends = [ends[end].clone(), sleeve_name.clone()];
    if end == 1 {
        new_ends.swap(0, 1);
    }
    let attrs: Vec<&str> = raw.attrs.iter().map(|attr| attr.text.text.as_str()).collect();
    let named = raw.name.is_some() || !matches!(owner(file, wire), Owner::Row);
    let joints = raw.ends.len() == 2;
    let body = if joints {
        let mut joints: Vec<&str> = raw.ends.iter().map(|end| end.text.as_str()).collect();
        joints[end] = "crimp sleeve";
        let fields = raw.attrs.iter().filter_map(|attr| Some(format!(", {}: \"{}\"", key(attr)?, attr.text.text)));
        format!(
            "{{from: {}, to: {}{}, ends: [{}]}}",
            old_ends[0],
            old_ends[1],
            fields.collect::<String>(),
            joints.join(", ")
        )
    } else {
        std::iter::once(format!("{} to {}", old_ends[0], old_ends[1]))
            .chain(attrs.iter().map(|a| (*a).to_owned()))
            .collect::<Vec<_>>()
            .join(", ")
    };
    // A row of a list has no name of its own yet: looms go on calling it by the one that it had.
    let listed = source.text.get(wire.span.start..wire.span.end).is_some_and(|text| text.contains(" to "));
    let row = if named || !listed { body } else { format!("{}: {body}", wire.name) };
    let place = net.graph[[wire.from, wire.to][end]].place.as_ref().map_or(String::new(), |place| format!(", {place}"));
    let mut new = vec![format!("{} to {}", new_ends[0], new_ends[1])];
    new.extend(one.colour.clone());
    new.extend([area(one.area), metres(one.length), "?".to_owned()]);
    Ok(vec![
        Change::row("sleeves", format!("{sleeve_name}: {}{place}", sleeve(one.joint))),
        Change::PutWire { wire: wire.name.clone(), row },
        Change::row("wires", format!("{new_name}: {}", new.join(", "))),
    ])
}

/// The key of an attribute in a wire's long form.
fn key(attr: &Attr) -> Option<&'static str> {
    Some(match attr.role {
        raw::Role::Colour => "colour",
        raw::Role::Size => "size",
        raw::Role::Length => "length",
        raw::Role::Ohms => "ohms",
        raw::Role::Proof => "proof",
        _ => return None,
    })
}

/// `1.32 m`.
fn metres(value: f64) -> String {
    format!("{} m", plain(value))
}

/// `1.5 mm2`.
fn area(value: f64) -> String {
    format!("{} mm2", plain(value))
}

/// At most four decimals, none without need.
fn plain(value: f64) -> String {
    let text = format!("{value:.4}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// A sleeve as rows name it.
fn sleeve(joint: Joint) -> &'static str {
    match joint {
        Joint::Solder => "solder sleeve",
        Joint::Twist => "twist and tape",
        _ => "crimp sleeve",
    }
}
