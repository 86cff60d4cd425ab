//! The keys that rows in long form take. The reader goes by them, and so does the schema.

/// The sections a file may have.
pub(in crate::wiring) const SECTIONS: &[&str] = &[
    "machine",
    "bench",
    "colours",
    "chassis",
    "places",
    "parts",
    "wires",
    "grounds",
    "feeds",
    "plugs",
    "switches",
    "sleeves",
    "runs",
    "looms",
    "recent-work",
];
/// What is at hand.
pub(in crate::wiring) const BENCH: &[&str] =
    &["meter", "leads", "clips", "test-lamp", "helper", "cannot", "input", "beep-below"];
/// A strap between chassis pieces.
pub(in crate::wiring) const STRAP: &[&str] = &["to", "name", "size", "length", "ohms", "proof"];
/// A place.
pub(in crate::wiring) const PLACE: &[&str] = &["reach", "first", "warm"];
/// A part, besides its kind's ratings.
pub(in crate::wiring) const PART: &[&str] = &["kind", "place", "fitted"];
/// A wire.
pub(in crate::wiring) const WIRE: &[&str] =
    &["name", "from", "to", "colour", "size", "length", "ohms", "ends", "proof"];
/// A ground point.
pub(in crate::wiring) const GROUND: &[&str] = &["place", "on", "under"];
/// A feed, besides what a part takes.
pub(in crate::wiring) const FEED: &[&str] = &["fuse", "out"];
/// A plug.
pub(in crate::wiring) const PLUG: &[&str] = &["is", "a", "b", "ways"];
/// A plug's half.
pub(in crate::wiring) const HALF: &[&str] = &["place", "length", "size", "sleeves", "stub"];
/// A plug's row.
pub(in crate::wiring) const WAY: &[&str] = &["way", "old", "new", "from", "to", "proof", "a", "b"];
/// A sleeve.
pub(in crate::wiring) const SLEEVE: &[&str] = &["joint", "place"];
/// A loom.
pub(in crate::wiring) const LOOM: &[&str] = &["wires", "run", "lies-on"];
