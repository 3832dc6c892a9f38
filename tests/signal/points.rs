//! Every published static point as a design: plate current, transconductance and the rest beside the printed ones.

use std::fmt::Write as _;

use coldcheck::catalogue::{Catalogue, SectionKind};
use coldcheck::facts::State;

use crate::bench::Bench;
use crate::table::{keep, rows, spread};

/// Published plate currents down to this one are cut-off figures, A.
const CUT_OFF: f64 = 5e-5;

/// A tube of which the section in question has its electrodes held by supplies, all others left unused.
fn design(tube: &str, section: usize, volts: [&str; 3]) -> Option<(String, String)> {
    let entry = Catalogue::built_in().tube(tube)?;
    let wanted = entry.sections.get(section)?;
    let name = format!("V1{}", wanted.suffix);
    let mut text = String::new();
    if let Some(heater) = entry.heaters.first() {
        let volts = heater.voltage.0;
        if entry.heating == coldcheck::catalogue::Heating::Direct {
            // The grid is published against the middle of the filament or its negative end; here it is the middle.
            writeln!(text, "tube V1 \"{tube}\" {{ heater {volts}; }}\nwire {name}.cathode ground").ok()?;
        } else {
            writeln!(text, "bench-supply B9 {volts} plus=h1 minus=ground").ok()?;
            writeln!(text, "tube V1 \"{tube}\" {{ heater {volts} from=h1 to=ground; }}\nwire {name}.cathode ground")
                .ok()?;
        }
    }
    for other in entry.sections.iter().filter(|other| other.suffix != wanted.suffix) {
        writeln!(text, "unused V1{}", other.suffix).ok()?;
    }
    for (electrode, volts) in ["plate", "grid", "screen"].iter().zip(volts) {
        // Triode-connected: the screen is wired to the plate.
        if *electrode == "screen" && volts == "plate" {
            writeln!(text, "wire {name}.screen {name}.plate").ok()?;
            continue;
        }
        let Ok(number) = volts.parse::<f64>() else { continue };
        let (plus, minus) = (format!("{name}.{electrode}"), "ground".to_owned());
        match number {
            0.0 => writeln!(text, "wire {plus} {minus}").ok()?,
            n if n < 0.0 => writeln!(text, "bench-supply B-{electrode} {} plus={minus} minus={plus}", -n).ok()?,
            n => writeln!(text, "bench-supply B-{electrode} {n} plus={plus} minus={minus}").ok()?,
        }
    }
    Some((text, name))
}

fn section_of(tube: &str, kind: &str) -> Option<usize> {
    let entry = Catalogue::built_in().tube(tube)?;
    entry.sections.iter().position(|section| match kind {
        "triode" | "triode-1" => section.kind == SectionKind::Triode,
        _ => section.kind == SectionKind::Pentode,
    })
}

#[test]
fn facts_at_the_published_points() {
    let mut text = String::from("tube,va_V,vg1_V,vg2_V,role,confidence,fact,published,computed,error_percent\n");
    let mut errors: Vec<(&str, &str, &str, f64)> = Vec::new();
    for row in rows(include_str!("tube-points.csv")) {
        let [tube, section, va, vg1, vg2, ia, ig2, gm, mu, rp, confidence, role] = row[..] else { panic!("{row:?}") };
        let strapped = section == "triode-connected";
        let vg2 = if strapped { "plate" } else { vg2 };
        let built = section_of(tube, section).and_then(|section| design(tube, section, [va, vg1, vg2]));
        let Some((fragment, name)) = built else {
            writeln!(
                text,
                "{tube},{va},{vg1},{vg2},{role},{confidence},,,,not built: no such section in the catalogue"
            )
            .unwrap();
            continue;
        };
        let bench = Bench::of(&fragment);
        let figures = [
            // Screen and plate are one electrode of a strapped tube: its current is the cathode's.
            (if strapped { "cathode-current" } else { "plate-current" }, ia),
            ("screen-current", ig2),
            ("transconductance", gm),
            ("amplification", mu),
            ("plate-resistance", rp),
        ];
        for (fact, published) in figures {
            // The printed mu of a pentode is that of grid one over grid two, and the slopes of a strapped one are not the pentode's.
            let printed_otherwise = fact == "amplification" && !section.starts_with("triode");
            if printed_otherwise || (strapped && fact != "cathode-current") {
                continue;
            }
            let Ok(wanted) = published.parse::<f64>() else { continue };
            let found = bench.quantity(&name, fact, State::Running);
            let error = found / wanted - 1.0;
            writeln!(
                text,
                "{tube},{va},{vg1},{vg2},{role},{confidence},{fact},{wanted:.4e},{found:.4e},{:.1}",
                100.0 * error
            )
            .unwrap();
            // A current of ten microamperes tells where the tube cuts off, and is told by itself.
            let cut_off = fact == "plate-current" && wanted <= CUT_OFF;
            errors.push((if cut_off { "cut-off-current" } else { fact }, role, confidence, error));
        }
    }
    let summed = [
        "plate-current",
        "cut-off-current",
        "cathode-current",
        "screen-current",
        "transconductance",
        "amplification",
        "plate-resistance",
    ];
    for fact in summed {
        for role in ["fit", "score"] {
            let of: Vec<f64> = errors
                .iter()
                .filter(|(f, r, c, _)| *f == fact && *r == role && *c != "low")
                .map(|(.., error)| *error)
                .collect();
            if of.is_empty() {
                continue;
            }
            let (median, inside) = spread(&of, 0.10);
            writeln!(
                text,
                "# {fact} {role}, rows of low confidence left out: {} figures; median error {:.1} %; {:.0} % inside 10 %",
                of.len(),
                100.0 * median,
                100.0 * inside
            )
            .unwrap();
        }
    }
    keep("tube-points-computed.csv", &text);
}
