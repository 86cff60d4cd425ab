//! Worked circuits with published answers, each with its source in `tests/reference/worked_examples.yaml`.
//!
//! Three published answers are misprints or traps and must come out different: E14b's I(R3), E31's second, E33.
//! An ideal source is a source of 1 nano-ohm; a conducting diode of the examples is a constant drop; a lamp of theirs is
//! our filament with next to no cold part, which leaves the examples' power law.

use super::{elem, resistor, sim};
use ohmward::circuit::injury::Injury;
use ohmward::circuit::schematic::{Elem, Law, Node};
use ohmward::circuit::sim::{Outcome, Sim};
use ohmward::text::span::Source;
use ohmward::text::yaml::{Node as Tree, Value, parse};

const IDEAL: f64 = 1e-9;

fn get<'a>(tree: &'a Tree, key: &str) -> &'a Tree {
    let Value::Map(pairs) = &tree.value else { panic!("no map: {tree:?}") };
    &pairs.iter().find(|(k, _)| k.text == key).unwrap_or_else(|| panic!("no {key}")).1
}

fn text(tree: &Tree) -> &str {
    let Value::Scalar(text) = &tree.value else { panic!("no text: {tree:?}") };
    text
}

fn list(tree: &Tree) -> &[Tree] {
    let Value::List(items) = &tree.value else { panic!("no list: {tree:?}") };
    items
}

fn number(tree: &Tree) -> f64 {
    text(tree).parse().unwrap()
}

struct Example {
    nodes: Vec<String>,
    sim: Sim,
    outcome: Outcome,
}

impl Example {
    fn new(tree: &Tree) -> Example {
        let mut nodes = vec!["0".to_string()];
        let mut node = |tree: &Tree| -> Node {
            let name = text(tree);
            nodes.iter().position(|n| n == name).unwrap_or_else(|| {
                nodes.push(name.to_string());
                nodes.len() - 1
            })
        };
        let elements: Vec<Elem> = list(get(tree, "elements"))
            .iter()
            .map(|row| {
                let row = list(row);
                let (name, a, b) = (text(&row[1]), node(&row[2]), node(&row[3]));
                match text(&row[0]) {
                    "R" => resistor(name, a, b, number(&row[4])),
                    "V" | "D" => elem(name, a, b, Law::Source { volts: number(&row[4]), ohms: IDEAL }),
                    "I" => elem(name, b, a, Law::Source { volts: number(&row[4]) * 1e10, ohms: 1e10 }),
                    "L" => {
                        let [volts, amps, n] = list(&row[4]) else { panic!("lamp {name}") };
                        assert_eq!(number(n), 0.55);
                        elem(name, a, b, Law::Filament { volts: number(volts), amps: number(amps), cold: 1e-6 })
                    }
                    other => panic!("no element {other}"),
                }
            })
            .collect();
        let (sim, state) = sim(nodes.len(), elements);
        let outcome = sim.run(state, &Injury::default());
        Example { nodes, sim, outcome }
    }

    fn volts(&self, a: &str, b: &str) -> f64 {
        let node = |name: &str| self.nodes.iter().position(|n| n == name).unwrap();
        self.sim.volts(&self.outcome, 0, node(a), node(b))
    }

    /// Amps from node1 to node2; of a source those that leave its plus. Those of a source of a nano-ohm are the sum of what
    /// the others bring to its node, not a difference of volts.
    fn amps(&self, name: &str) -> f64 {
        let elements = &self.sim.schematic().elements;
        let id = elements.iter().position(|e| e.name == name).unwrap_or_else(|| panic!("no {name}"));
        if !matches!(elements[id].law, Law::Source { ohms, .. } if ohms == IDEAL) {
            return self.sim.element_amps(&self.outcome, 0, id);
        }
        let at = elements[id].a;
        let mut out = 0.0;
        for (other, element) in elements.iter().enumerate().filter(|(other, _)| *other != id) {
            let amps = self.sim.element_amps(&self.outcome, 0, other);
            if element.a == at {
                out += amps;
            }
            if element.b == at {
                out -= amps;
            }
        }
        out
    }

    /// `V(a,b)`, `I(X)`, numbers, `+ - * /` and brackets.
    fn value(&self, diodes: &[String], ask: &str) -> f64 {
        let mut rest: Vec<char> = ask.chars().filter(|c| !c.is_whitespace()).collect();
        rest.reverse();
        let value = self.sum(diodes, &mut rest);
        assert!(rest.is_empty(), "{ask}");
        value
    }

    fn sum(&self, diodes: &[String], rest: &mut Vec<char>) -> f64 {
        let mut value = self.product(diodes, rest);
        while let Some(&sign) = rest.last().filter(|c| **c == '+' || **c == '-') {
            rest.pop();
            let next = self.product(diodes, rest);
            value += if sign == '+' { next } else { -next };
        }
        value
    }

    fn product(&self, diodes: &[String], rest: &mut Vec<char>) -> f64 {
        let mut value = self.atom(diodes, rest);
        while let Some(&sign) = rest.last().filter(|c| **c == '*' || **c == '/') {
            rest.pop();
            let next = self.atom(diodes, rest);
            value = if sign == '*' { value * next } else { value / next };
        }
        value
    }

    fn atom(&self, diodes: &[String], rest: &mut Vec<char>) -> f64 {
        match rest.pop() {
            Some('-') => -self.atom(diodes, rest),
            Some('(') => {
                let value = self.sum(diodes, rest);
                assert_eq!(rest.pop(), Some(')'));
                value
            }
            Some(what @ ('V' | 'I')) => {
                assert_eq!(rest.pop(), Some('('));
                let mut inside = String::new();
                while let Some(c) = rest.pop().filter(|c| *c != ')') {
                    inside.push(c);
                }
                match (what, inside.split_once(',')) {
                    ('V', Some((a, b))) => self.volts(a, b),
                    ('V', None) => self.volts(&inside, "0"),
                    // A conducting diode's amps flow into its anode.
                    _ if diodes.contains(&inside) => -self.amps(&inside),
                    _ => self.amps(&inside),
                }
            }
            Some(first) => {
                let mut number = String::from(first);
                while let Some(c) = rest.last().copied() {
                    let exponent = matches!(c, '+' | '-') && number.ends_with('e');
                    if !(c.is_ascii_digit() || c == '.' || c == 'e' || exponent) {
                        break;
                    }
                    number.push(c);
                    rest.pop();
                }
                number.parse().unwrap()
            }
            None => panic!("nothing asked"),
        }
    }
}

#[test]
fn every_worked_example() {
    let source = Source::new("worked_examples.yaml", include_str!("../reference/worked_examples.yaml"));
    let tree = parse(&source).unwrap();
    let mut different = Vec::new();
    let mut agreeing = 0;
    let mut wrong = Vec::new();
    for tree in list(&tree) {
        let id = text(get(tree, "id"));
        let diodes: Vec<String> = list(get(tree, "elements"))
            .iter()
            .filter(|row| text(&list(row)[0]) == "D")
            .map(|row| text(&list(row)[1]).to_string())
            .collect();
        let example = Example::new(tree);
        for ask in list(get(tree, "asks")) {
            let quantity = text(get(ask, "quantity"));
            let value = example.value(&diodes, quantity);
            let (published, tol) = (number(get(ask, "published")), number(get(ask, "tol")));
            // Nano-ohms of the ideal sources are worth up to 1e-8 of a reading.
            let allowed = if published == 0.0 { tol.max(1e-7) } else { tol.max(1e-7) * published.abs() };
            // "computed" has eight digits.
            let computed = number(get(ask, "computed"));
            if (value - computed).abs() > 1e-7 * computed.abs().max(1e-2) {
                wrong.push(format!("{id} {quantity}: {value}, two other solvers {computed}"));
            }
            if (value - published).abs() <= allowed {
                agreeing += 1;
            } else {
                different.push(format!("{id} {quantity}"));
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
    assert_eq!(different, ["E14b I(R3)", "E31 I(B)", "E33 V(l,r)"]);
    assert!(agreeing > 70, "{agreeing}");
}
