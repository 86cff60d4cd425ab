//! Colours: which new wire takes the place of which old one in a plug.
//!
//! An assignment of wires to spools. What counts, in this order: that few wires have to be bought, that few wires of a
//! plug are alike, that few change their colour, that few are taken for each other. Searched with a bound, so that what
//! comes out is the best there is; in a plug of many wires and few spools the search may be cut short, and says so.

use super::cut::fit;
use crate::catalogue::extend::{ColourCosts, main};

/// Steps of a search; then the best so far is taken.
const STEPS: usize = 300_000;

/// A wire that wants a spool.
#[derive(Clone, Debug, PartialEq)]
pub struct Want {
    /// Its own colour.
    pub old: Option<String>,
    /// It goes to the metal.
    pub ground: bool,
    /// The least size that will do, mm².
    pub least: f64,
    /// The length to be cut, m.
    pub length: f64,
}

/// Spools of one colour and size.
#[derive(Clone, Debug, PartialEq)]
pub struct Wires {
    /// The colour.
    pub colour: String,
    /// Its size, mm².
    pub area: f64,
    /// Metres left on each spool.
    pub left: Vec<f64>,
}

/// What an assignment costs; less is better, the first figure first.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct Cost {
    /// Wires for which nothing is at hand.
    pub buy: u32,
    /// Wires that have the colour of another one of the plug.
    pub double: u32,
    /// Wires that change their colour.
    pub changed: u32,
    /// How easily colours are taken for each other.
    pub confusing: u32,
}

impl Cost {
    fn plus(self, other: Cost) -> Cost {
        Cost {
            buy: self.buy + other.buy,
            double: self.double + other.double,
            changed: self.changed + other.changed,
            confusing: self.confusing + other.confusing,
        }
    }
}

/// An assignment.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Assigned {
    /// For each wire which of the spools' classes; none: to be bought in its own colour.
    pub choice: Vec<Option<usize>>,
    /// What it costs.
    pub cost: Cost,
    /// No other costs less.
    pub best: bool,
}

/// Sizes on sale between the least that will do and what is there.
pub fn steps(least: f64, area: f64, sizes: &[f64]) -> u32 {
    sizes.iter().filter(|&&size| size > least * 1.03 && size <= area * 1.03).count() as u32
}

/// A plug's wires and what there is for them.
#[derive(Clone, Copy, Debug)]
pub struct Plug<'a> {
    /// Wires that want a spool.
    pub wants: &'a [Want],
    /// What is at hand.
    pub wires: &'a [Wires],
    /// Colours of wires of the plug that stay as they are.
    pub beside: &'a [String],
    /// What colours are to each other.
    pub costs: &'a ColourCosts,
    /// Sizes on sale, mm².
    pub sizes: &'a [f64],
}

impl<'a> Plug<'a> {
    /// The whole cost of a choice, from its definition. `None` if the spools are too short or too thin for it.
    pub fn cost(&self, choice: &[Option<usize>]) -> Option<Cost> {
        let mut sum = Cost::default();
        let colours: Vec<Option<&str>> = (0..choice.len()).map(|at| self.colour(at, choice[at])).collect();
        for (at, chosen) in choice.iter().enumerate() {
            sum = sum.plus(self.alone(at, *chosen)?);
            for other in 0..at {
                sum.confusing += self.together(colours[at], colours[other]);
            }
            let stays = |colour: &&str| self.beside.iter().any(|beside| beside == colour);
            let double = colours[at].is_some_and(|colour| !stays(&colour)) && colours[..at].contains(&colours[at]);
            sum.double += u32::from(double);
        }
        let fits = |class: usize| {
            let mine = (0..choice.len()).filter(|&at| choice[at] == Some(class));
            fit(&mine.map(|at| self.wants[at].length).collect::<Vec<f64>>(), &self.wires[class].left)
        };
        (0..self.wires.len()).all(fits).then_some(sum)
    }

    /// The colour that a wire gets.
    fn colour(&self, at: usize, chosen: Option<usize>) -> Option<&'a str> {
        match chosen {
            Some(class) => Some(&self.wires[class].colour),
            None => self.wants[at].old.as_deref(),
        }
    }

    /// What a wire costs by itself, and beside those that stay.
    fn alone(&self, at: usize, chosen: Option<usize>) -> Option<Cost> {
        let want = &self.wants[at];
        let new = self.colour(at, chosen);
        let mut cost = Cost::default();
        for beside in self.beside {
            cost.confusing += self.together(new, Some(beside));
        }
        cost.double = u32::from(self.beside.iter().any(|beside| Some(beside.as_str()) == new));
        let Some(class) = chosen else { return Some(Cost { buy: 1, ..cost }) };
        let spool = &self.wires[class];
        if spool.area < want.least * 0.97 {
            return None;
        }
        cost.confusing += self.costs.thicker * steps(want.least, spool.area, self.sizes);
        if want.old.as_ref() == Some(&spool.colour) {
            return Some(cost);
        }
        cost.confusing += self.costs.misleads(want.old.as_deref(), want.ground, &spool.colour);
        let Some(old) = &want.old else { return Some(cost) };
        cost.changed = 1;
        cost.confusing += if main(old) == spool.colour { self.costs.main } else { self.costs.other };
        let taken = |(other, want): (usize, &Want)| other != at && want.old.as_ref() == Some(&spool.colour);
        cost.confusing += if self.wants.iter().enumerate().any(taken) { self.costs.taken } else { 0 };
        Some(cost)
    }

    /// How easily two wires are taken for each other.
    fn together(&self, one: Option<&str>, other: Option<&str>) -> u32 {
        match (one, other) {
            (Some(one), Some(other)) if one == other => self.costs.pair,
            (Some(one), Some(other)) => self.costs.alike(one, other),
            _ => 0,
        }
    }
}

/// The best assignment of spools to the wires of one plug.
pub fn assign(plug: &Plug) -> Assigned {
    let Plug { wants, wires, .. } = *plug;
    let alone: Vec<Vec<(Option<usize>, Cost)>> = (0..wants.len())
        .map(|at| {
            let classes = (0..wires.len()).filter(|&class| wires[class].left.iter().any(|&l| l >= wants[at].length));
            let options = classes.map(Some).chain([None]);
            options.filter_map(|chosen| Some((chosen, plug.alone(at, chosen)?))).collect()
        })
        .collect();
    // Who has least to choose from comes first.
    let mut order: Vec<usize> = (0..wants.len()).collect();
    order.sort_by_key(|&at| (alone[at].len(), at));
    // The least that those from here on can cost by themselves, each figure taken by itself.
    let mut rest = vec![Cost::default(); wants.len() + 1];
    for (depth, &at) in order.iter().enumerate().rev() {
        let spools: Vec<Cost> =
            alone[at].iter().filter(|(chosen, _)| chosen.is_some()).map(|(_, cost)| *cost).collect();
        let costs = if spools.is_empty() { alone[at].iter().map(|(_, cost)| *cost).collect() } else { spools };
        let least = |figure: fn(&Cost) -> u32| costs.iter().map(figure).min().unwrap_or(0);
        let one =
            Cost { buy: least(|c| c.buy), double: 0, changed: least(|c| c.changed), confusing: least(|c| c.confusing) };
        rest[depth] = rest[depth + 1].plus(one);
    }
    let mut search = Search { plug: *plug, alone, order, rest, choice: vec![None; wants.len()], best: None, steps: 0 };
    search.go(0, Cost::default());
    let best = search.steps < STEPS;
    match search.best {
        Some((cost, choice)) => Assigned { choice, cost, best },
        None => Assigned { choice: vec![None; wants.len()], cost: Cost::default(), best },
    }
}

struct Search<'a> {
    plug: Plug<'a>,
    alone: Vec<Vec<(Option<usize>, Cost)>>,
    order: Vec<usize>,
    rest: Vec<Cost>,
    choice: Vec<Option<usize>>,
    best: Option<(Cost, Vec<Option<usize>>)>,
    steps: usize,
}

impl<'a> Search<'a> {
    /// Everything from this depth on, `so_far` having been spent.
    fn go(&mut self, depth: usize, so_far: Cost) {
        self.steps += 1;
        if self.steps >= STEPS && self.best.is_some() {
            return;
        }
        if self.best.as_ref().is_some_and(|(best, _)| self.bound(depth, so_far) >= *best) {
            return;
        }
        let Some(&at) = self.order.get(depth) else {
            self.best = Some((so_far, self.choice.clone()));
            return;
        };
        let before = self.colours(depth);
        let mut next: Vec<(Cost, Option<usize>)> = Vec::new();
        for (chosen, cost) in &self.alone[at] {
            let new = self.plug.colour(at, *chosen);
            let mut cost = *cost;
            for there in &before {
                cost.confusing += self.plug.together(new, Some(there));
            }
            if new.is_some_and(|new| before.contains(&new)) {
                cost.double = 1;
            }
            next.push((cost, *chosen));
        }
        next.sort();
        for (cost, chosen) in next {
            if chosen.is_some_and(|class| !self.fits(depth, class)) {
                continue;
            }
            self.choice[at] = chosen;
            self.go(depth + 1, so_far.plus(cost));
            self.choice[at] = None;
        }
    }

    /// Colours of those before this depth.
    fn colours(&self, depth: usize) -> Vec<&'a str> {
        self.order[..depth].iter().filter_map(|&at| self.plug.colour(at, self.choice[at])).collect()
    }

    /// Nothing from here on costs less than this in all.
    fn bound(&self, depth: usize, so_far: Cost) -> Cost {
        let mut bound = so_far.plus(self.rest[depth]);
        // How often each colour of the spools stands in the plug so far.
        let mut colours: Vec<&str> = self.plug.wires.iter().map(|wires| wires.colour.as_str()).collect();
        colours.sort_unstable();
        colours.dedup();
        let used = self.colours(depth);
        let count = |colour: &str| {
            let stays = self.plug.beside.iter().filter(|beside| *beside == colour).count();
            used.iter().filter(|used| **used == colour).count() + stays
        };
        let mut counts: Vec<u32> = colours.iter().map(|colour| count(colour) as u32).collect();
        // Each colour is free once, and those that come from spools are spread over them as thinly as can be; what the
        // wires that stay cost is in `rest` already.
        let from_spools = self.order[depth..].iter().filter(|&&at| self.alone[at].len() > 1).count();
        for _ in 0..from_spools {
            let Some(least) = counts.iter_mut().min() else { break };
            bound.double += u32::from(*least > 0);
            if self.plug.beside.is_empty() {
                bound.confusing += self.plug.costs.pair * *least;
            }
            *least += 1;
        }
        bound
    }

    /// Is there enough of these spools for those before and one more?
    fn fits(&self, depth: usize, class: usize) -> bool {
        let chosen = self.order[..depth].iter().filter(|&&at| self.choice[at] == Some(class));
        let pieces: Vec<f64> = chosen.chain([&self.order[depth]]).map(|&at| self.plug.wants[at].length).collect();
        fit(&pieces, &self.plug.wires[class].left)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::catalogue::Catalogue;
    use proptest::prelude::*;

    fn want(old: &str, length: f64) -> Want {
        Want { old: (!old.is_empty()).then(|| old.to_owned()), ground: false, least: 1.0, length }
    }

    fn spool(colour: &str, area: f64, metres: f64) -> Wires {
        Wires { colour: colour.into(), area, left: vec![metres] }
    }

    fn told(wants: &[Want], wires: &[Wires]) -> (Vec<String>, Assigned) {
        let rules = Catalogue::builtin().extend;
        let plug = Plug { wants, wires, beside: &[], costs: &rules.colours, sizes: &rules.sizes };
        let found = assign(&plug);
        assert_eq!(plug.cost(&found.choice), Some(found.cost));
        let name = |chosen: &Option<usize>| chosen.map_or("buy".to_owned(), |class| wires[class].colour.clone());
        (found.choice.iter().map(name).collect(), found)
    }

    #[test]
    fn a_wire_keeps_its_colour_where_a_spool_has_it_and_its_main_colour_where_not() {
        let wires = [spool("white", 1.5, 10.0), spool("black", 1.5, 10.0), spool("orange", 1.5, 10.0)];
        let (colours, found) = told(&[want("orange", 1.2), want("black/white", 1.2), want("grey", 1.2)], &wires);
        assert_eq!(colours, ["orange", "black", "white"]);
        assert!(found.best && found.cost.double == 0 && found.cost.changed == 2);
    }

    #[test]
    fn no_two_are_alike_while_there_are_colours() {
        let wires = [spool("red", 1.5, 10.0), spool("blue", 1.5, 10.0)];
        let (colours, _) = told(&[want("red", 1.0), want("red", 1.0)], &wires);
        assert!(colours.contains(&"red".into()) && colours.contains(&"blue".into()));
        let (_, found) = told(&[want("red", 1.0), want("red", 1.0), want("red", 1.0)], &wires);
        assert_eq!((found.cost.buy, found.cost.double), (0, 1));
    }

    #[test]
    fn colours_that_are_taken_for_each_other_do_not_meet_in_a_plug_if_others_are_there() {
        let wires = [spool("blue", 1.5, 10.0), spool("violet", 1.5, 10.0), spool("yellow", 1.5, 10.0)];
        let (colours, _) = told(&[want("", 1.0), want("", 1.0)], &wires);
        assert!(colours.contains(&"yellow".into()), "{colours:?}");
    }

    #[test]
    fn a_ground_does_not_become_red() {
        let wires = [spool("red", 1.5, 10.0), spool("blue", 1.5, 10.0)];
        let earth = Want { ground: true, ..want("green", 1.0) };
        assert_eq!(told(&[earth, want("violet", 1.0)], &wires).0, ["blue", "red"]);
        assert_eq!(told(&[want("yellow", 1.0), want("black/white", 1.0)], &wires).0, ["red", "blue"]);
    }

    #[test]
    fn what_has_to_be_double_is_spread_over_the_colours() {
        let wires = [spool("red", 1.5, 100.0), spool("black", 1.5, 100.0)];
        let wants = ["red", "brown", "yellow", "blue"].map(|old| want(old, 1.0));
        let (colours, _) = told(&wants, &wires);
        assert_eq!(colours.iter().filter(|colour| *colour == "red").count(), 2, "{colours:?}");
    }

    #[test]
    fn colours_of_wires_that_stay_are_taken() {
        let rules = Catalogue::builtin().extend;
        let (wants, wires) = ([want("red", 1.0)], [spool("red", 1.5, 10.0), spool("blue", 1.5, 10.0)]);
        let beside = ["red".to_owned()];
        let plug = Plug { wants: &wants, wires: &wires, beside: &beside, costs: &rules.colours, sizes: &rules.sizes };
        assert_eq!(assign(&plug).choice, [Some(1)]);
    }

    #[test]
    fn a_spool_that_is_too_short_or_too_thin_is_none() {
        let wires = [spool("red", 0.5, 50.0), spool("blue", 1.5, 2.5)];
        let (colours, found) = told(&[want("red", 1.2), want("red", 1.2), want("red", 1.2)], &wires);
        assert_eq!(colours.iter().filter(|c| *c == "buy").count(), 1);
        assert_eq!((found.cost.buy, found.cost.double), (1, 1));
    }

    #[test]
    fn a_big_plug_and_few_spools_end_in_good_time() {
        let names = ["red", "black", "blue", "white", "green", "yellow"];
        let wires: Vec<Wires> = names.iter().map(|name| spool(name, 1.5, 100.0)).collect();
        let olds = ["orange", "grey", "violet/white", "pink", "brown", "red", "black/red", "blue/white"];
        let wants: Vec<Want> = (0..32).map(|at| want(olds[at % olds.len()], 1.3)).collect();
        let (_, found) = told(&wants, &wires);
        assert_eq!((found.cost.buy, found.cost.double), (0, 26));
    }

    /// All choices one by one.
    fn brute(plug: &Plug) -> Cost {
        let Plug { wants, wires, .. } = *plug;
        let mut best: Option<Cost> = None;
        let base = wires.len() + 1;
        for code in 0..base.pow(wants.len() as u32) {
            let choice: Vec<Option<usize>> =
                (0..wants.len()).map(|at| (code / base.pow(at as u32) % base).checked_sub(1)).collect();
            if let Some(cost) = plug.cost(&choice) {
                best = Some(best.map_or(cost, |best| best.min(cost)));
            }
        }
        best.unwrap()
    }

    const NAMES: [&str; 9] = ["red", "orange", "blue", "violet", "white", "black", "grey", "black/white", "brown/red"];

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(200))]

        #[test]
        fn nothing_costs_less_than_what_is_chosen(
            wants in proptest::collection::vec((0usize..10, 0usize..3, 1u32..4), 1..6),
            spools in proptest::collection::vec((0usize..7, 0usize..3, proptest::collection::vec(1u32..9, 1..3)), 0..5),
            beside in proptest::collection::vec(0usize..9, 0..3),
        ) {
            let rules = Catalogue::builtin().extend;
            let areas = [0.75, 1.5, 2.5];
            let wants: Vec<Want> = wants
                .into_iter()
                .map(|(old, least, length)| Want {
                    old: NAMES.get(old).map(|name| name.to_string()),
                    ground: old % 4 == 0,
                    least: areas[least],
                    length: f64::from(length),
                })
                .collect();
            let mut wires: Vec<Wires> = Vec::new();
            for (colour, area, left) in spools {
                let colour = NAMES[colour];
                if !wires.iter().any(|w| w.colour == colour && w.area == areas[area]) {
                    let left = left.into_iter().map(f64::from).collect();
                    wires.push(Wires { colour: colour.into(), area: areas[area], left });
                }
            }
            let beside: Vec<String> = beside.into_iter().map(|at| NAMES[at].to_owned()).collect();
            let plug =
                Plug { wants: &wants, wires: &wires, beside: &beside, costs: &rules.colours, sizes: &rules.sizes };
            let found = assign(&plug);
            prop_assert!(found.best);
            prop_assert_eq!(found.cost, brute(&plug));
            prop_assert_eq!(plug.cost(&found.choice), Some(found.cost));
        }
    }
}
