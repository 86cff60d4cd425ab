//! Wires held together on a lead: which, and when it pays.
//!
//! A touch of several wires on red and several on black is silent only if none of them is joined across. It tells most
//! where a beep is as likely as not; with all wires apart that halves them each time, as W. H. Kautz does (1974).

/// Two lists of groups, for red and for black.
pub(super) type Sides = (Vec<usize>, Vec<usize>);

/// What wires may be held together.
pub(super) struct Ground<'a> {
    /// Groups.
    pub k: usize,
    /// The chance of each two to be joined.
    pub chance: &'a [f64],
    /// Not known of each two.
    pub open: &'a [bool],
    /// Known to be apart, with nothing between them that would beep.
    pub clear: Vec<bool>,
    /// At hand.
    pub clips: usize,
    /// Touches saved so far against all pairs one by one.
    pub slack: usize,
}

impl Ground<'_> {
    /// Groups to be held together, beginning with each two: as long as the answer tells more.
    pub fn gang(&self, single: Sides) -> Sides {
        if self.chance[single.0[0] * self.k + single.1[0]] >= 0.5 {
            return single;
        }
        let mut best = (self.tells(&single), single);
        for i in 0..self.k {
            let chance = |j: &usize| self.chance[i * self.k + j];
            let open = (0..self.k).filter(|&j| self.open[i * self.k + j]);
            let Some(j) = open.rev().max_by(|a, b| chance(a).total_cmp(&chance(b))) else { continue };
            let mut now = (vec![i], vec![j]);
            let mut worth = self.tells(&now);
            while let Some((value, wider)) = self.wider(&now).filter(|(value, _)| *value > worth + 1e-12) {
                (worth, now) = (value, wider);
            }
            if worth > best.0 + 1e-9 {
                best = (worth, now);
            }
        }
        best.1
    }

    /// The best of the touches with one group more, or with two that are open to each other.
    fn wider(&self, now: &Sides) -> Option<(f64, Sides)> {
        let mut best: Option<(f64, Sides)> = None;
        let mut consider = |sides: Sides| {
            let value = if self.allowed(&sides) { self.tells(&sides) } else { return };
            if best.as_ref().is_none_or(|(worth, _)| value > *worth + 1e-12) {
                best = Some((value, sides));
            }
        };
        let with = |red: Option<usize>, black: Option<usize>| {
            let mut sides = now.clone();
            sides.0.extend(red);
            sides.1.extend(black);
            sides
        };
        let free: Vec<usize> = (0..self.k).filter(|c| !now.0.contains(c) && !now.1.contains(c)).collect();
        for &c in &free {
            consider(with(None, Some(c)));
            consider(with(Some(c), None));
            for &d in free.iter().filter(|&&d| self.slack > 1 && self.open[c * self.k + d]) {
                consider(with(Some(c), Some(d)));
            }
        }
        best
    }

    /// Bits that an answer is expected to tell, by what it takes: holding wires together takes time.
    fn tells(&self, sides: &Sides) -> f64 {
        let none: f64 = pairs_of(sides).map(|(i, j)| 1.0 - self.chance[i * self.k + j]).product();
        bits(1.0 - none) / (1.0 + HOLDING * (held(&sides.0) + held(&sides.1)) as f64)
    }

    /// Are there clips for it, and can it not cost more than was saved? Pairs that are known to be apart tell nothing
    /// and may be held along, where a beep leaves touches enough to find its pair.
    fn allowed(&self, sides: &Sides) -> bool {
        let open = pairs_of(sides).filter(|&(i, j)| self.open[i * self.k + j]).count();
        let clear = pairs_of(sides).filter(|&(i, j)| self.clear[i * self.k + j]).count();
        let all = sides.0.len() * sides.1.len();
        let search = 1 + open.next_power_of_two().trailing_zeros() as usize;
        held(&sides.0) + held(&sides.1) <= self.clips && open + clear == all && (clear == 0 || self.slack >= search)
    }
}

/// Clips that wires on one lead take.
fn held(list: &[usize]) -> usize {
    if list.len() > 1 { list.len() } else { 0 }
}

fn pairs_of(sides: &Sides) -> impl Iterator<Item = (usize, usize)> + '_ {
    sides.0.iter().flat_map(|&i| sides.1.iter().map(move |&j| (i, j)))
}

/// What holding one more wire takes, beside the touch itself.
const HOLDING: f64 = 0.01;

/// Bits of a yes or no of this chance.
pub fn bits(p: f64) -> f64 {
    let part = |p: f64| if p <= 0.0 { 0.0 } else { -p * p.log2() };
    part(p) + part(1.0 - p)
}
