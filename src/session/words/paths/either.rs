//! What else has to be set for a part that several switches can feed.

use super::{Pass, Paths, settings_of};
use crate::netlist::Part;

impl Paths<'_> {
    /// One further setting that feeds a part, where these and all others at rest do not: a pump is switched on by
    /// hand or by its float, and neither is in series with it.
    pub fn either(&self, part: &str, feed: Option<&str>, set: &[(String, String)]) -> Option<(String, String)> {
        let load = self.netlist.parts.get(part)?;
        let fed = |more: Option<(usize, &String)>| {
            let conducts = |pass: &Pass| {
                let Some(closed) = &pass.closed else { return true };
                let at = match more {
                    Some((index, setting)) if index == pass.part => Some(setting.clone()),
                    _ => self.stands(pass.part, set),
                };
                at.is_some_and(|setting| closed.contains(&setting))
            };
            let own = self.netlist.parts.get_index_of(part);
            self.reaches(load, feed, &|pass: &Pass| Some(pass.part) != own && conducts(pass), 0)
        };
        if fed(None) {
            return None;
        }
        let feeding = |index: usize, switch: &Part| {
            let (control, settings) = self.control(switch)?;
            let on = settings.iter().find(|setting| fed(Some((index, setting))))?;
            Some((control, on.clone()))
        };
        let found: Vec<(String, String)> =
            self.netlist.parts.values().enumerate().filter_map(|(index, switch)| feeding(index, switch)).collect();
        // "dead when it is not in neutral": how one of them stands was said, so nothing is added
        let said = found.iter().any(|(control, _)| set.iter().any(|(c, _)| c == control));
        found.into_iter().next().filter(|_| !said)
    }

    /// Is a part fed only through parts of some sort? A brake lamp may hang on two brake switches side by side.
    pub fn only_through(&self, part: &str, feed: Option<&str>, sort: &dyn Fn(&Part) -> bool) -> bool {
        let Some(load) = self.netlist.parts.get(part) else { return false };
        let own = self.netlist.parts.get_index_of(part);
        let through: Vec<usize> =
            self.netlist.parts.values().enumerate().filter(|(_, part)| sort(part)).map(|(index, _)| index).collect();
        let others = |pass: &Pass| Some(pass.part) != own;
        let without = |pass: &Pass| others(pass) && !through.contains(&pass.part);
        !through.is_empty()
            && self.groups(load, feed).iter().any(|pins| self.fed(pins, &others) && !self.fed(pins, &without))
    }

    /// What moves a part's contacts, and its settings, the first at rest.
    fn control(&self, part: &Part) -> Option<(String, Vec<String>)> {
        let kind = self.catalogue.kind(&part.kind)?;
        let control = kind.control.as_ref()?;
        Some((control.shared.clone().unwrap_or_else(|| part.name.clone()), settings_of(part, kind)))
    }

    /// Where a switch stands.
    fn stands(&self, part: usize, set: &[(String, String)]) -> Option<String> {
        let (_, part) = self.netlist.parts.get_index(part)?;
        let (control, settings) = self.control(part)?;
        let said = set.iter().find(|(c, _)| *c == control).map(|(_, setting)| setting.clone());
        said.or_else(|| settings.first().cloned())
    }
}
