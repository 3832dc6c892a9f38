//! Reports made by hand, whose every word and place is known.

use std::path::PathBuf;

use coldcheck::facts::{
    Fact, FactTable, Lineup, Origin, Sample, State, Subject, SubjectKind, Unsolved, Value, find_definition,
};
use coldcheck::findings::{Checked, Class, DesignReport, Edit, FactValue, Finding, Label, NotJudged, Remedy, Waived};
use coldcheck::report::{DesignOutcome, Outcome};
use coldcheck::source::{Complaint, FileId, Sources, Span};
use coldcheck::units::Dimension;

pub const LINE_STAGE: &str = "\
design \"Reading-room line stage\" revision=\"B\"
include \"supply.kdl\"
tube V1 \"12AU7\" { heater \"6.3V\" from=h1 to=h2; alternates \"12BH7A\"; }
resistor R3 \"47k\" from=bplus to=V1a.plate power=\"0.5W\"
capacitor C2 \"1uF\" from=V1a.plate to=out voltage=\"250V\" kind=film
output OUT hot=out cold=ground load=\"47k\"
";

pub const SUPPLY: &str = "\
transformer T1 { winding ht \"250-0-250V\" start=ht1 centre=ground finish=ht2; }
capacitor C10 \"22uF\" plus=rect minus=ground voltage=\"350V\" kind=electrolytic
";

/// A report with the sources that it points into.
pub struct Case {
    pub sources: Sources,
    pub report: DesignReport,
    pub general: Vec<Complaint>,
}

impl Case {
    pub fn with_outcome<T>(&self, use_it: impl FnOnce(Outcome<'_>) -> T) -> T {
        let designs = [DesignOutcome { report: &self.report, sources: &self.sources }];
        use_it(Outcome { designs: &designs, complaints: &self.general, sources: &self.sources })
    }
}

/// The place of the first occurrence of a text in a file.
pub fn find(sources: &Sources, file: FileId, text: &str) -> Span {
    let start = sources.get(file).unwrap().text.find(text).unwrap();
    Span::new(file, start, start + text.len())
}

pub fn quantity(name: &str, value: f64, dimension: Dimension) -> FactValue {
    FactValue { name: name.to_owned(), value: Value::Quantity(value), dimension, estimated: false }
}

pub fn finding(rule: &str, class: Class, part: &str, message: &str, span: Span) -> Finding {
    Finding {
        rule: rule.to_owned(),
        class,
        part: part.to_owned(),
        message: message.to_owned(),
        remedies: Vec::new(),
        state: None,
        empty_socket: None,
        lineup: Lineup::new(),
        span,
        labels: Vec::new(),
        facts: Vec::new(),
        excess: 0.0,
        waived: None,
        by_tolerance: None,
    }
}

pub fn design(findings: Vec<Finding>) -> DesignReport {
    DesignReport {
        path: PathBuf::from("line.kdl"),
        name: "Reading-room line stage".to_owned(),
        revision: Some("B".to_owned()),
        findings,
        not_judged: Vec::new(),
        rules_judged: 58,
        highest_voltage: Some(389.24),
        complaints: Vec::new(),
        spread: None,
    }
}

/// A design with a finding of each kind: labels in two files, a line-up, a waiver, rules not judged, complaints.
pub fn line_stage() -> Case {
    let mut sources = Sources::default();
    let line = sources.add("line.kdl", LINE_STAGE);
    let supply = sources.add("supply.kdl", SUPPLY);
    let at = |text: &str| find(&sources, line, text);
    let in_supply = |text: &str| find(&sources, supply, text);

    let bleeder = Finding {
        remedies: vec![Remedy::untried("fit a bleeder of 220 kΩ, 2 W across it")],
        state: Some(State::SwitchedOff),
        labels: vec![Label {
            span: in_supply("capacitor C10"),
            text: "holds 1.7 J with nothing to discharge it".to_owned(),
        }],
        facts: vec![quantity("discharge-time", f64::INFINITY, Dimension::TIME)],
        ..finding(
            "supply/bleeder",
            Class::Hazard,
            "C10",
            "C10 stays above 50 V for ever after mains off, 60 s is allowed",
            in_supply("capacitor C10"),
        )
    };
    let coupling = Finding {
        remedies: vec![
            Remedy {
                text: "fit one rated 630 V or more".to_owned(),
                checked: Some(Checked {
                    title: "change `250V` to `630V`".to_owned(),
                    edits: vec![Edit { span: at("\"250V\""), text: "\"630V\"".to_owned() }],
                }),
            },
            Remedy::untried("lower the supply"),
        ],
        state: Some(State::SocketEmpty),
        empty_socket: Some("V1".to_owned()),
        labels: vec![
            Label { span: at("voltage=\"250V\""), text: "rated 250 V".to_owned() },
            Label { span: at("to=V1a.plate"), text: "lifted to 389.2 V".to_owned() },
            Label { span: in_supply("\"250-0-250V\""), text: "fed from here".to_owned() },
        ],
        facts: vec![
            quantity("peak-voltage", 389.241_234_567, Dimension::VOLTAGE),
            quantity("rated-voltage", 250.0, Dimension::VOLTAGE),
        ],
        ..finding(
            "capacitor/working-voltage",
            Class::Overstress,
            "C2",
            "C2 can see 389.2 V, 1.557 of its rating of 250 V",
            at("voltage=\"250V\""),
        )
    };
    let mut load = Finding {
        state: Some(State::HighMains),
        labels: vec![
            Label { span: at("power=\"0.5W\""), text: "rated 500 mW".to_owned() },
            Label {
                span: at("resistor R3 \"47k\" from=bplus to=V1a.plate power=\"0.5W\""),
                text: "carries 3.9 mA".to_owned(),
            },
        ],
        facts: vec![
            FactValue { estimated: true, ..quantity("dissipation", 0.71, Dimension::POWER) },
            FactValue {
                name: "role".to_owned(),
                value: Value::Word("plate-load".to_owned()),
                dimension: Dimension::NONE,
                estimated: false,
            },
            FactValue {
                name: "bleeds".to_owned(),
                value: Value::Flag(false),
                dimension: Dimension::NONE,
                estimated: false,
            },
        ],
        ..finding(
            "resistor/dissipation",
            Class::Hazard,
            "R3",
            "R3 turns 710 mW into heat, above its rating of 500 mW",
            at("power=\"0.5W\""),
        )
    };
    load.lineup.insert("V1".to_owned(), "12BH7A".to_owned());
    let waived = Finding {
        waived: Some(Waived {
            because: "the next box has its own input capacitor".to_owned(),
            until: Some("2027-06-30".to_owned()),
        }),
        ..finding(
            "coupling/corner",
            Class::Malfunction,
            "C2",
            "C2 lets bass go below 31 Hz, 20 Hz is promised",
            at("capacitor C2"),
        )
    };
    let refinement =
        finding("grid/stopper", Class::Refinement, "V1a", "V1a has no resistor at its grid pin", at("tube V1"));
    let complaint = Complaint::at(at("load=\"47k\""), "an output has no `load` here", "not known")
        .also(at("output OUT"), "in this output")
        .help("did you mean `level`?");
    let mut report = design(vec![refinement, load, waived, coupling, bleeder]);
    report.findings.sort_by(Finding::order);
    report.not_judged = ["OUT", "V1a"]
        .map(|part| NotJudged {
            rule: "output/gain".to_owned(),
            part: part.to_owned(),
            reason: "no signal path from an input was found".to_owned(),
        })
        .to_vec();
    report.complaints = vec![complaint];
    Case {
        sources,
        report,
        general: vec![
            Complaint::general("there is no file `attic.kdl`"),
            Complaint::general("`stock` is empty").warning(),
        ],
    }
}

/// A small table of facts with one of each kind of value.
pub fn facts() -> (Sources, FactTable) {
    let mut sources = Sources::default();
    let line = sources.add("line.kdl", LINE_STAGE);
    let supply = sources.add("supply.kdl", SUPPLY);
    let mut table = FactTable::default();
    let lineup = |tube: &str| Lineup::from_iter([("V1".to_owned(), tube.to_owned())]);
    table.lineups = vec![lineup("12AU7"), lineup("12BH7A")];
    let c2 = table.add_subject(Subject {
        kind: SubjectKind::Capacitor,
        name: "C2".to_owned(),
        part: Some("C2".to_owned()),
        span: find(&sources, line, "C2"),
    });
    let c10 = table.add_subject(Subject {
        kind: SubjectKind::Capacitor,
        name: "C10".to_owned(),
        part: Some("C10".to_owned()),
        span: find(&sources, supply, "C10"),
    });
    let v1a = table.add_subject(Subject {
        kind: SubjectKind::Tube,
        name: "V1a".to_owned(),
        part: Some("V1".to_owned()),
        span: find(&sources, line, "V1"),
    });
    let sample = |state, lineup, empty: Option<&str>, value| Sample {
        state,
        lineup,
        empty_socket: empty.map(str::to_owned),
        value,
    };
    let fact = |samples, estimated: bool, assumptions: &[&str], origins: &[Span]| Fact {
        samples,
        worst: 0,
        estimated,
        assumptions: assumptions.iter().map(|text| (*text).to_owned()).collect(),
        origins: origins.iter().map(|span| Origin { span: *span, text: "here".to_owned() }).collect(),
    };
    let definition = |name| find_definition(name).unwrap();
    let rating = find(&sources, line, "voltage=\"250V\"");
    let plate = find(&sources, line, "to=V1a.plate");
    let winding = find(&sources, supply, "\"250-0-250V\"");
    table.record(
        c2,
        definition("rated-voltage"),
        fact(vec![sample(None, 0, None, Value::Quantity(250.0))], false, &[], &[rating]),
    );
    let volts = |state, lineup, empty, volts| sample(Some(state), lineup, empty, Value::Quantity(volts));
    table.record(
        c2,
        definition("peak-voltage"),
        fact(
            vec![
                volts(State::Running, 0, None, 182.123_456_789),
                volts(State::SwitchOn, 0, None, 388.0),
                volts(State::SocketEmpty, 0, Some("V1"), 350.0),
                volts(State::SocketEmpty, 0, Some("V2"), 360.0),
                volts(State::SwitchOn, 1, None, 389.25),
            ],
            true,
            &["resistance of winding T1.ht estimated from its rating"],
            &[plate, winding],
        ),
    );
    table.record(c2, definition("polarised"), fact(vec![sample(None, 0, None, Value::Flag(false))], false, &[], &[]));
    table.record(
        c10,
        definition("discharge-time"),
        fact(
            vec![sample(Some(State::SwitchedOff), 0, None, Value::Quantity(f64::INFINITY))],
            false,
            &[],
            &[find(&sources, supply, "C10")],
        ),
    );
    table.record(
        c10,
        definition("kind"),
        fact(vec![sample(None, 0, None, Value::Word("electrolytic".to_owned()))], false, &[], &[]),
    );
    table.record(
        v1a,
        definition("grid-leak"),
        fact(vec![sample(None, 0, None, Value::Quantity(f64::INFINITY))], false, &[], &[]),
    );
    table.record_failure(v1a, definition("bias"), "the operating point did not settle at net `out`");
    table.unsolved.push(Unsolved {
        state: State::LowMains,
        lineup: 1,
        empty_socket: None,
        reason: "net `out` did not settle".to_owned(),
        span: Some(find(&sources, line, "to=out")),
    });
    (sources, table)
}
