//! What may be written at the cursor: statements, properties, values, devices, nets, terminals, rules, shelf values.

use crate::catalogue::Catalogue;
use crate::design::{Design, Form, Index, Names, RESERVED_NETS, SHELVES, Vocabulary, WORKSHOP_STATEMENTS, is_bare};
use crate::findings::Class;
use crate::rules::{DeratingSet, RuleBook};
use crate::source::{Cursor, cursor};
use crate::units::{Dimension, as_written, format_quantity};

use super::answer::{Sort, Suggestion};

/// What completion draws on.
#[derive(Clone, Copy)]
pub(super) struct Stock<'a> {
    pub(super) vocabulary: &'a Vocabulary,
    pub(super) catalogue: &'a Catalogue,
    pub(super) rules: &'a RuleBook,
    /// The names of the design that the text belongs to.
    pub(super) index: &'a Index,
    /// The typed design, for the terminals of its parts.
    pub(super) design: Option<&'a Design>,
    /// What the workshop has on a shelf.
    pub(super) shelf: &'a dyn Fn(&str) -> Vec<f64>,
}

/// The suggestions at a byte of a text; `scope` is the stage that the whole file stands in, where it does.
pub(super) fn complete(
    text: &str,
    offset: usize,
    workshop: bool,
    scope: &Option<String>,
    stock: Stock<'_>,
) -> Vec<Suggestion> {
    let Some(here) = cursor(text, offset) else { return Vec::new() };
    let mut pen = Pen {
        found: Vec::new(),
        start: here.start,
        end: offset,
        partial: here.partial.clone(),
        closing: text.get(offset..).is_some_and(|rest| rest.starts_with('"')),
    };
    if workshop {
        in_workshop(&here, stock, &mut pen);
    } else {
        in_design(&here, scope, stock, &mut pen);
    }
    pen.found
}

/// Collects suggestions for one place.
struct Pen {
    found: Vec<Suggestion>,
    start: usize,
    end: usize,
    /// What is written so far, a quotation mark included.
    partial: String,
    /// Whether a closing quotation mark stands behind the cursor already.
    closing: bool,
}

impl Pen {
    fn put(&mut self, label: &str, text: String, sort: Sort, detail: impl Into<String>) {
        let end = self.end + usize::from(self.closing && self.partial.starts_with('"') && text.ends_with('"'));
        self.found.push(Suggestion {
            label: label.to_owned(),
            sort,
            detail: detail.into(),
            text,
            start: self.start,
            end,
        });
    }

    /// A value: with quotes where KDL wants them or where one is written already.
    fn value(&mut self, label: &str, sort: Sort, detail: impl Into<String>) {
        let quoted = self.partial.starts_with('"') || !is_bare(label);
        let text = if quoted { format!("\"{label}\"") } else { label.to_owned() };
        self.put(label, text, sort, detail);
    }

    fn values<'a>(&mut self, labels: impl IntoIterator<Item = &'a str>, sort: Sort, detail: &str) {
        labels.into_iter().for_each(|label| self.value(label, sort, detail));
    }
}

fn plain(word: &str) -> &str {
    word.trim_matches('"')
}

fn in_workshop(here: &Cursor, stock: Stock<'_>, pen: &mut Pen) {
    let words: Vec<&str> = here.words.iter().map(|word| plain(word)).collect();
    let around = here.around.last().and_then(|words| words.first()).map(String::as_str);
    match (around, words.as_slice()) {
        (Some("stock"), []) => pen.values(SHELVES, Sort::Property, "shelf"),
        (_, []) => pen.values(WORKSHOP_STATEMENTS, Sort::Statement, "setting"),
        (_, ["gate"]) => pen.values(Class::ALL.map(Class::word), Sort::Word, "class"),
        (_, ["derating"]) => {
            for set in DeratingSet::built_in() {
                pen.value(&set.name, Sort::Word, &set.about);
            }
        }
        (_, ["adjust" | "quiet"]) => rules(stock, pen),
        (_, ["adjust", rule, ..]) => {
            let limits = stock.rules.rule(rule).and_then(|rule| rule.check()).map(|check| check.limits.as_slice());
            for limit in limits.unwrap_or_default() {
                let value = format_quantity(limit.value, limit.dimension);
                pen.put(&limit.name, format!("{}=", limit.name), Sort::Property, format!("{value}: {}", limit.meaning));
            }
        }
        (_, ["quiet", _]) => pen.put("because", "because=\"\"".to_owned(), Sort::Property, "why"),
        _ => {}
    }
}

fn rules(stock: Stock<'_>, pen: &mut Pen) {
    for rule in stock.rules.rules() {
        pen.value(&rule.name, Sort::Rule, rule.class.word());
    }
}

fn in_design(here: &Cursor, scope: &Option<String>, stock: Stock<'_>, pen: &mut Pen) {
    let stage = here.around.first().filter(|words| words.first().is_some_and(|word| word == "stage"));
    let scope = match stage {
        Some(words) => words.get(1).map(|name| plain(name).to_owned()),
        None => scope.clone(),
    };
    let inner = here.around.get(usize::from(stage.is_some())..).unwrap_or_default();
    let parent = inner.last().and_then(|words| words.first()).map(String::as_str);
    let names = stock.index.scopes.get(&scope).cloned().unwrap_or_default();
    let Some(keyword) = here.words.first() else {
        match parent {
            Some(parent) => {
                let children = stock.vocabulary.words(None, parent).map(|words| words.children.as_slice());
                pen.values(children.unwrap_or_default().iter().map(String::as_str), Sort::Statement, "");
            }
            None => pen.values(Vocabulary::statements(scope.is_some()), Sort::Statement, ""),
        }
        return;
    };
    let place = Place { keyword, parent, scope: &scope, names: &names, stock };
    if let Some((key, value)) = here.partial.split_once('=').filter(|(key, _)| !key.starts_with('"')) {
        pen.start += key.len() + 1;
        pen.partial = value.to_owned();
        place.property_value(here, key, pen);
        return;
    }
    let given = here.words.iter().skip(1).filter(|word| !word.contains('=') || word.starts_with('"')).count();
    place.argument(here, given, pen);
    if !here.partial.starts_with('"') {
        place.property(here, pen);
    }
}

struct Place<'a> {
    keyword: &'a str,
    parent: Option<&'a str>,
    scope: &'a Option<String>,
    names: &'a Names,
    stock: Stock<'a>,
}

impl Place<'_> {
    fn argument(&self, here: &Cursor, given: usize, pen: &mut Pen) {
        let catalogue = self.stock.catalogue;
        match (self.keyword, given) {
            ("waive", 0) => rules(self.stock, pen),
            ("fit", 0) => {
                let stages = self.stock.index.scopes.keys().flatten();
                pen.values(stages.map(String::as_str), Sort::Name, "stage");
            }
            ("tube", 1) | ("alternates", _) => pen.values(catalogue.tube_names(), Sort::Device, "tube"),
            ("diode" | "bridge", 1) => pen.values(catalogue.diode_names(), Sort::Device, "diode"),
            ("led", 1) => pen.values(catalogue.led_names(), Sort::Device, "LED"),
            ("wire", _) | ("reading", 0) => self.references(pen),
            ("unused", _) => self.sections(pen),
            ("heater", 0) => self.heater(here, pen),
            (part, 0) if self.parent.is_none() => {
                if let Some(letter) = Vocabulary::letter(part) {
                    pen.value(&self.stock.index.free(self.scope, letter), Sort::Name, "the next free name");
                }
            }
            ("resistor" | "potentiometer", 1) => self.shelf("resistor-value", Dimension::RESISTANCE, pen),
            ("capacitor", 1) => self.shelf("capacitor-value", Dimension::CAPACITANCE, pen),
            ("fuse", 1) => self.shelf("fuse-current", Dimension::CURRENT, pen),
            _ => {}
        }
    }

    /// The voltages of the tube that the heater is in.
    fn heater(&self, here: &Cursor, pen: &mut Pen) {
        let device = here.around.last().and_then(|words| words.get(2)).map(|word| plain(word));
        let entry = device.and_then(|device| self.stock.catalogue.tube(device));
        for heater in entry.iter().flat_map(|entry| &entry.heaters) {
            pen.value(&as_written(heater.voltage.0, Dimension::VOLTAGE), Sort::Value, "as published");
        }
    }

    fn property(&self, here: &Cursor, pen: &mut Pen) {
        let given = |name: &str| here.words.iter().any(|word| word.split_once('=').is_some_and(|(key, _)| key == name));
        if self.keyword == "fit" {
            let stage = here.words.get(1).map(|word| plain(word).to_owned());
            let ports =
                stage.and_then(|stage| self.stock.index.scopes.get(&Some(stage))).map(|names| names.ports.as_slice());
            for port in ports.unwrap_or_default().iter().filter(|port| !given(port)) {
                pen.put(port, format!("{port}="), Sort::Property, "port");
            }
            return;
        }
        let Some(words) = self.stock.vocabulary.words(self.parent, self.keyword) else { return };
        for (name, form) in words.properties.iter().filter(|(name, _)| !given(name)) {
            let detail = match form {
                Form::Reference => "a net or a terminal".to_owned(),
                Form::Quantity(dimension) => dimension.to_string(),
                Form::OneOf(words) => words.join(", "),
                Form::Other => String::new(),
            };
            pen.put(name, format!("{name}="), Sort::Property, detail);
        }
    }

    fn property_value(&self, here: &Cursor, key: &str, pen: &mut Pen) {
        let words = self.stock.vocabulary.words(self.parent, self.keyword);
        match (self.keyword, key) {
            ("fit", _) => {
                self.references(pen);
                self.sections(pen);
                return;
            }
            ("waive", "part") => return pen.values(self.names.parts.keys().map(String::as_str), Sort::Name, "part"),
            ("output", "of") => {
                let inputs = self.names.parts.iter().filter(|(_, (keyword, _))| keyword == "input");
                return pen.values(inputs.map(|(name, _)| name.as_str()), Sort::Name, "input");
            }
            _ => {}
        }
        match words.and_then(|words| words.properties.get(key)) {
            Some(Form::Reference) => self.references(pen),
            Some(Form::OneOf(words)) => pen.values(words.iter().map(String::as_str), Sort::Word, key),
            Some(Form::Quantity(dimension)) => {
                let part = if self.keyword == "potentiometer" { "resistor" } else { self.keyword };
                self.shelf(&format!("{part}-{key}"), *dimension, pen);
                if key == "tolerance" && here.words.first().is_some_and(|word| word == "resistor") {
                    pen.values(["1%", "2%", "5%", "10%"], Sort::Value, "series of IEC 60063");
                }
            }
            Some(Form::Other) | None => {}
        }
    }

    fn shelf(&self, name: &str, dimension: Dimension, pen: &mut Pen) {
        for value in (self.stock.shelf)(name) {
            pen.value(&as_written(value, dimension), Sort::Value, "on the shelf");
        }
    }

    fn sections(&self, pen: &mut Pen) {
        for (name, (keyword, device)) in &self.names.parts {
            let entry =
                device.as_deref().filter(|_| keyword == "tube").and_then(|device| self.stock.catalogue.tube(device));
            for section in entry.iter().flat_map(|entry| &entry.sections) {
                pen.value(&format!("{name}{}", section.suffix), Sort::Name, "tube section");
            }
        }
    }

    /// Nets, ports and terminals of the scope.
    fn references(&self, pen: &mut Pen) {
        pen.values(self.names.nets.iter().map(String::as_str), Sort::Net, "net");
        pen.values(RESERVED_NETS, Sort::Net, "net of every design");
        for port in &self.names.ports {
            if !self.names.whole_ports.contains(port) {
                pen.value(port, Sort::Net, "port");
                continue;
            }
            for electrode in ["plate", "grid", "cathode", "screen"] {
                pen.value(&format!("{port}.{electrode}"), Sort::Terminal, "terminal of the port's tube");
            }
        }
        let mut terminals: Vec<String> = self.own_terminals().collect();
        if self.scope.is_some() {
            terminals.sort();
            terminals.dedup();
        }
        for terminal in &terminals {
            pen.value(terminal, Sort::Terminal, "terminal");
        }
    }

    fn own_terminals(&self) -> impl Iterator<Item = String> {
        let parts = self.stock.design.map(|design| design.parts.as_slice()).unwrap_or_default();
        parts.iter().flat_map(move |part| {
            let name = part.name.rsplit('.').next().unwrap_or(&part.name);
            let known = self.names.parts.contains_key(name) && part.copied_by.is_empty() == self.scope.is_none();
            let prefix = part.name.len() - name.len();
            let terminals = if known { part.terminals.as_slice() } else { &[] };
            terminals.iter().filter_map(move |terminal| part.terminal_label(terminal).get(prefix..).map(str::to_owned))
        })
    }
}
