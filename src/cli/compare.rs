//! `coldcheck compare OLD NEW` and `coldcheck compare --since REV PATH…`

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use clap::Args;
use rayon::prelude::*;

use crate::findings::{Class, Comparison, Side, compare};
use crate::report::{CompareStyle, CompareWriting, Compared, ComparedPiece, compare_schema};
use crate::source::{Complaint, Sources};
use crate::units::{Dimension, parse_value};

use super::Exit;
use super::complaints::{told, unread};
use super::files::{find_designs, read_text, without_dot};
use super::git::Revision;
use super::house::{House, Inspected, is_design};
use super::inspect::AT_ONCE;
use super::options::{CompareFormat, Grounds, Looks};
use super::progress::bar;
use super::store::{Disk, Store};
use super::terminal::{Paper, for_results, print, say};

#[derive(Args)]
pub(super) struct Arguments {
    /// The older and the newer design, or two folders whose designs are matched by their place in them; with --since,
    /// designs or folders of one repository
    #[arg(required_unless_present = "schema", value_name = "PATH")]
    paths: Vec<PathBuf>,
    /// Compare with this revision of the git repository: a commit, branch or tag
    #[arg(long, value_name = "REV")]
    since: Option<String>,
    /// How to write the result
    #[arg(long = "as", value_enum, default_value_t, value_name = "FORMAT")]
    format: CompareFormat,
    /// The least class that fails the run, for findings that are new, more serious than before or no longer waived. The
    /// newer workshop file's gate where not given
    #[arg(long, value_name = "CLASS")]
    gate: Option<Class>,
    /// By how much a value must move to be told of
    #[arg(long, value_name = "SHARE", default_value = "5%", value_parser = share)]
    moved: f64,
    /// Print the JSON Schema of `--as json` and do nothing else
    #[arg(long)]
    schema: bool,
    #[command(flatten)]
    grounds: Grounds,
    #[command(flatten)]
    looks: Looks,
}

fn share(text: &str) -> Result<f64, String> {
    match parse_value(text, Dimension::NONE) {
        Ok(share) if share.is_finite() && share >= 0.0 => Ok(share),
        _ => Err("a share is wanted here, such as 5%".to_owned()),
    }
}

/// The designs to compare, each under the path that it is told of, and where each side is kept.
struct Plan {
    pairs: BTreeMap<PathBuf, Pair>,
    old: Arc<dyn Store>,
    complaints: Vec<Complaint>,
    /// Whether both sides have the same paths.
    same_paths: bool,
}

#[derive(Default)]
struct Pair {
    old: Option<PathBuf>,
    new: Option<PathBuf>,
}

/// One design, ready to be printed.
struct Done {
    piece: ComparedPiece,
    complaints: String,
    exit: Exit,
}

pub(super) fn run(arguments: &Arguments) -> Exit {
    if arguments.schema {
        return print(&compare_schema(), Exit::Clear);
    }
    say(&told(arguments.grounds.start_threads().as_slice(), &Sources::default(), &arguments.looks));
    let plan = match (&arguments.since, arguments.paths.as_slice()) {
        (Some(revision), paths) => since(revision, paths),
        (None, [old, new]) => beside(old, new),
        (None, _) => Err("two paths are compared: the older and the newer; or one and more with --since".to_owned()),
    };
    let plan = match plan {
        Ok(plan) => plan,
        Err(reason) => {
            say(&format!("{reason}\n"));
            return Exit::Unreadable;
        }
    };
    let named = |side: fn(&Pair) -> Option<&PathBuf>| -> Vec<PathBuf> {
        plan.pairs.values().filter_map(side).cloned().collect()
    };
    let old = House::open_in(Arc::clone(&plan.old), &arguments.grounds, &named(|pair| pair.old.as_ref()));
    let new = House::open(&arguments.grounds, &named(|pair| pair.new.as_ref()));
    // Complaints of the plan have no place, so the newer side's sources do for all.
    let complaints: Vec<Complaint> = plan.complaints.iter().chain(new.complaints()).cloned().collect();
    say(&told(&complaints, new.sources(), &arguments.looks));
    let mut exit = if unread(&complaints) { Exit::Unreadable } else { Exit::Clear };
    if old.complaints() != new.complaints() {
        say(&told(old.complaints(), old.sources(), &arguments.looks));
    }
    let style = match arguments.format {
        CompareFormat::Text => CompareStyle::Text(for_results(&arguments.looks)),
        CompareFormat::Json => CompareStyle::Json,
        CompareFormat::Markdown => CompareStyle::Markdown,
    };
    let mut writing = CompareWriting::new(style, arguments.moved, &complaints, new.sources());
    let mut paper = Paper::default();
    paper.print(&writing.opening());
    let alike = plan.same_paths && old.judges_like(&new);
    let pairs: Vec<(&PathBuf, &Pair)> = plan.pairs.iter().collect();
    let progress = bar(pairs.len(), arguments.looks.quiet);
    for some in pairs.chunks(AT_ONCE) {
        let compare = |(path, pair): &(&PathBuf, &Pair)| {
            let sides = inspected(pair, &old, &new, alike);
            let done = compared(path, sides.as_refs(), &writing, arguments);
            progress.inc(1);
            done
        };
        let done: Vec<Done> = some.par_iter().map(compare).collect();
        progress.suspend(|| {
            for one in done {
                say(&one.complaints);
                exit = exit.max(one.exit);
                paper.print(&writing.add(one.piece));
            }
        });
    }
    progress.finish_and_clear();
    paper.print(&writing.closing());
    paper.done(exit)
}

/// Both sides of a design; a newer side that rests on the same texts stands for both.
struct Sides {
    old: Option<Inspected>,
    new: Option<Inspected>,
    same: bool,
}

impl Sides {
    fn as_refs(&self) -> (Option<&Inspected>, Option<&Inspected>) {
        let new = self.new.as_ref();
        (if self.same { new } else { self.old.as_ref() }, new)
    }
}

fn inspected(pair: &Pair, old: &House, new: &House, alike: bool) -> Sides {
    let after = pair.new.as_ref().map(|path| new.inspect(path));
    let same = alike && pair.old.is_some() && after.as_ref().is_some_and(|after| old.has_same(after));
    let before = pair.old.as_ref().filter(|_| !same).map(|path| old.inspect(path));
    Sides { old: before, new: after, same }
}

fn compared(
    path: &Path,
    (old, new): (Option<&Inspected>, Option<&Inspected>),
    writing: &CompareWriting<'_>,
    arguments: &Arguments,
) -> Done {
    let quiet = |rule: &str| new.is_some_and(|new| new.quiet.iter().any(|known| known == rule));
    // An older side that gives no facts could not be read: everything is new to it.
    let readable = old.filter(|old| old.facts.is_some());
    let comparison: Comparison = compare(readable.map(as_side), new.map(as_side), arguments.moved, &quiet);
    let gate = arguments.gate.or(new.map(|new| new.gate));
    let fails = gate.is_some_and(|gate| comparison.fails(gate));
    let name = path.display().to_string();
    let piece = writing.piece(Compared {
        path: &name,
        old: old.map(|old| (&old.report, &old.sources)),
        new: new.map(|new| (&new.report, &new.sources)),
        comparison: &comparison,
        fails,
    });
    let lost = new.is_some_and(|new| unread(&new.report.complaints));
    let complaints = [old.filter(|_| !lost), new]
        .into_iter()
        .flatten()
        .map(|one| told(&one.report.complaints, &one.sources, &arguments.looks))
        .collect();
    let exit = if lost {
        Exit::Unreadable
    } else if fails {
        Exit::Found
    } else {
        Exit::Clear
    };
    Done { piece, complaints, exit }
}

fn as_side(inspected: &Inspected) -> Side<'_> {
    Side { report: &inspected.report, facts: inspected.facts.as_ref() }
}

/// Two files, or two folders whose designs are matched by their place in them.
fn beside(old: &Path, new: &Path) -> Result<Plan, String> {
    for path in [old, new] {
        if !path.exists() {
            return Err(format!("`{}` cannot be read: there is no such file or folder", path.display()));
        }
    }
    let mut pairs: BTreeMap<PathBuf, Pair> = BTreeMap::new();
    let mut complaints = Vec::new();
    match (old.is_dir(), new.is_dir()) {
        (false, false) => {
            let pair = Pair { old: Some(old.to_owned()), new: Some(new.to_owned()) };
            pairs.insert(new.to_owned(), pair);
        }
        (true, true) => {
            for (folder, newer) in [(old, false), (new, true)] {
                let (found, wrong) = find_designs(&[folder.to_owned()], is_design);
                // A side without designs is one where all are new, or all are gone.
                complaints.extend(wrong.into_iter().filter(|_| !found.is_empty()));
                let folder = without_dot(folder);
                for path in found {
                    let place = path.strip_prefix(&folder).unwrap_or(&path).to_owned();
                    let pair = pairs.entry(place).or_default();
                    *(if newer { &mut pair.new } else { &mut pair.old }) = Some(path);
                }
            }
        }
        _ => return Err("a file is compared with a file, and a folder with a folder".to_owned()),
    }
    planned(Plan { pairs, old: Arc::new(Disk), complaints, same_paths: false })
}

/// Designs on the disk beside what a revision has under the same paths.
fn since(revision: &str, paths: &[PathBuf]) -> Result<Plan, String> {
    let first = paths.first().ok_or("a path is wanted beside --since")?;
    let old = Revision::open(revision, first)?;
    let mut pairs: BTreeMap<PathBuf, Pair> = BTreeMap::new();
    let mut complaints = Vec::new();
    for path in paths {
        let before = old.designs(path, is_design);
        if path.exists() {
            let (found, wrong) = find_designs(std::slice::from_ref(path), is_design);
            complaints.extend(wrong.into_iter().filter(|_| !found.is_empty() || before.is_empty()));
            for path in found {
                let pair = pairs.entry(path.clone()).or_default();
                pair.new = Some(path);
            }
        } else if before.is_empty() {
            return Err(format!("`{}` is neither here nor in `{revision}`", path.display()));
        }
        for path in before {
            // What lies here and was not found is left out by an ignore file, and so was never gone.
            let ignored = !pairs.contains_key(&path) && read_text(&path).is_ok_and(|text| is_design(&text));
            if !ignored {
                let pair = pairs.entry(path.clone()).or_default();
                pair.old = Some(path);
            }
        }
    }
    planned(Plan { pairs, old: Arc::new(old), complaints, same_paths: true })
}

fn planned(plan: Plan) -> Result<Plan, String> {
    // A gate that finds nothing to judge must not pass.
    if plan.pairs.is_empty() { Err("no design was found to compare".to_owned()) } else { Ok(plan) }
}
