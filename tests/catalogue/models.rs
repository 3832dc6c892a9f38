//! The catalogue's models at the published points: the errors that the fit recorded are the errors that they have.

use coldcheck::catalogue::{
    Catalogue, DividedPentodeModel, PentodeForm, PentodeLaw, Section, SectionKind, TriodeModel, TubeModel,
};

use super::table::{Row, number, rows};

const MODELS: &str = include_str!("../published/fit/models.csv");
const RESIDUALS: &str = include_str!("../published/fit/residuals.csv");
const RECTIFIER_RESIDUALS: &str = include_str!("../published/fit/rectifier-residuals.csv");

/// ln(1 + e^y), by another road than the fit's: for large y the exponential is taken out first.
fn softplus(y: f64) -> f64 {
    y.max(0.0) + (-y.abs()).exp().ln_1p()
}

/// Koren, Glass Audio 8(5), 1996.
fn triode(m: &TriodeModel, plate: f64, grid: f64) -> f64 {
    let inner = m.kp * (m.mu.recip() + grid / (m.kvb + plate.powi(2)).sqrt());
    let e1 = plate / m.kp * softplus(inner);
    2.0 * e1.powf(m.x) / m.kg1
}

/// Plate and screen current of `form=divided`: the whole, the share of it that the division leaves to the plate, and what
/// space charge lets through of that.
fn pentode(m: &DividedPentodeModel, plate: f64, screen: f64, grid: f64) -> (f64, f64) {
    let equivalent = screen + plate * m.mu / m.mup;
    let drive = m.kp * (m.mu.recip() + grid / equivalent.hypot(1.0));
    let whole = 2.0 * (equivalent * softplus(drive) / m.kp).powf(m.x) / m.kg1;
    let reaching = whole / (1.0 + m.split * (m.tilt * (screen / plate).ln()).exp());
    let passed = reaching * (1.0 - (-m.knee * plate.powf(1.5) / reaching).exp());
    (passed, whole - passed)
}

/// Transconductance and plate resistance by differences wide enough for the eye and narrow enough for the curve.
fn slopes(current: impl Fn(f64, f64) -> f64, plate: f64, grid: f64) -> (f64, f64) {
    let h = 1e-3;
    let gm = (current(plate, grid + h) - current(plate, grid - h)) / (2.0 * h);
    let gp = (current(plate + h, grid) - current(plate - h, grid)) / (2.0 * h);
    (gm, gp.recip())
}

fn section_of(row: &Row) -> &'static Section {
    let tube = Catalogue::built_in().tube(&row["tube"]).unwrap_or_else(|| panic!("{row:?}"));
    let wanted = |section: &&Section| match row["section"].as_str() {
        "triode" => section.kind == SectionKind::Triode,
        "triode-1" => section.suffix == "a",
        "triode-2" => section.suffix == "b",
        "rectifier" => matches!(section.kind, SectionKind::Rectifier { .. }),
        _ => section.kind == SectionKind::Pentode,
    };
    tube.sections.iter().find(wanted).unwrap_or_else(|| panic!("{row:?}"))
}

/// The stage's plate current by bisection, its cathode resistor bypassed: gain and plate current.
fn stage(m: &TriodeModel, row: &Row) -> (f64, f64) {
    let [supply, load, cathode] = ["ebb_V", "rp_ohm", "rk_ohm"].map(|c| number(row, c).unwrap());
    let next = number(row, "rg_next_ohm").map_or(0.0, f64::recip);
    let point = |i: f64| (supply - i * (load + cathode), -i * cathode);
    let (mut low, mut high) = (0.0, supply / (load + cathode));
    for _ in 0..80 {
        let middle = (low + high) / 2.0;
        let (plate, grid) = point(middle);
        if triode(m, plate, grid) > middle { low = middle } else { high = middle }
    }
    let (plate, grid) = point(low);
    let (gm, rp) = slopes(|p, g| triode(m, p, g), plate, grid);
    (gm / (rp.recip() + load.recip() + next), low)
}

/// A pentode's stage, cathode and screen bypassed, by bisections one inside another: gain and cathode current.
fn pentode_stage(m: &DividedPentodeModel, row: &Row) -> (f64, f64) {
    let [supply, load, cathode, feed] = ["ebb_V", "rp_ohm", "rk_ohm", "rg2_ohm"].map(|c| number(row, c).unwrap());
    let next = number(row, "rg_next_ohm").map_or(0.0, f64::recip);
    // Where a rising current meets a falling supply.
    let meeting = |excess: &dyn Fn(f64) -> f64, top: f64| {
        let (mut low, mut high) = (1e-3, top);
        for _ in 0..60 {
            let middle = f64::midpoint(low, high);
            if excess(middle) > 0.0 { high = middle } else { low = middle }
        }
        low
    };
    let plate_at = |bias: f64, screen: f64| {
        meeting(&|plate| pentode(m, plate, screen, -bias).0 - (supply - bias - plate) / load, supply)
    };
    let screen_at = |bias: f64| {
        let drawn = |screen: f64| pentode(m, plate_at(bias, screen), screen, -bias).1;
        meeting(&|screen| drawn(screen) - (supply - bias - screen) / feed, supply)
    };
    let bias = meeting(
        &|bias| {
            let screen = screen_at(bias);
            let (plate, gathered) = pentode(m, plate_at(bias, screen), screen, -bias);
            bias / cathode - plate - gathered
        },
        40.0,
    );
    let screen = screen_at(bias);
    let (gm, rp) = slopes(|p, g| pentode(m, p, screen, g).0, plate_at(bias, screen), -bias);
    (gm / (rp.recip() + load.recip() + next), bias / cathode)
}

/// What the catalogue's model gives for the quantity of a row.
fn computed(row: &Row) -> f64 {
    let quantity = row["quantity"].as_str();
    let point = |column| number(row, column).unwrap();
    let pick = |ia: f64, ig2: f64, (gm, rp): (f64, f64)| match quantity {
        "ia_A" => ia,
        "ig2_A" => ig2,
        "gm_S" => gm,
        "mu" => gm * rp,
        "rp_ohm" => rp,
        other => panic!("{other}"),
    };
    match &section_of(row).model {
        TubeModel::Triode(m) if row["kind"] == "chart" => {
            let (gain, current) = stage(m, row);
            if quantity == "gain" { gain } else { current }
        }
        TubeModel::Triode(m) => {
            let (plate, grid) = (point("va_V"), point("vg1_V"));
            pick(triode(m, plate, grid), 0.0, slopes(|p, g| triode(m, p, g), plate, grid))
        }
        TubeModel::Pentode(PentodeLaw::Divided(m)) if row["kind"] == "chart" => {
            let (gain, current) = pentode_stage(m, row);
            if quantity == "gain" { gain } else { current }
        }
        TubeModel::Pentode(PentodeLaw::Divided(m)) if row["section"] == "triode-connected" => {
            let both = |p: f64, g: f64| {
                let (ia, ig2) = pentode(m, p, p, g);
                ia + ig2
            };
            let (plate, grid) = (point("va_V"), point("vg1_V"));
            pick(both(plate, grid), 0.0, slopes(both, plate, grid))
        }
        TubeModel::Pentode(PentodeLaw::Divided(m)) => {
            let (plate, screen, grid) = (point("va_V"), point("vg2_V"), point("vg1_V"));
            let (ia, ig2) = pentode(m, plate, screen, grid);
            pick(ia, ig2, slopes(|p, g| pentode(m, p, screen, g).0, plate, grid))
        }
        TubeModel::Pentode(PentodeLaw::Koren(_)) => panic!("no pentode of the catalogue has that form"),
        TubeModel::VacuumDiode(_) | TubeModel::Regulator(_) => panic!("no rectifier or regulator has such a row"),
    }
}

fn in_catalogue(row: &Row) -> bool {
    Catalogue::built_in().tube(&row["tube"]).is_some()
}

#[test]
fn the_catalogue_carries_the_fitted_keys() {
    let mut checked = 0;
    for row in rows(MODELS).iter().filter(|row| in_catalogue(row)) {
        let key = |name: &str| number(row, name).unwrap();
        match &section_of(row).model {
            TubeModel::Triode(m) => {
                assert_eq!([m.mu, m.x, m.kg1, m.kp, m.kvb], ["mu", "x", "kg1", "kp", "kvb"].map(key), "{row:?}")
            }
            TubeModel::Pentode(law) => {
                assert_eq!(law.form(), PentodeForm::Divided, "{row:?}");
                for name in law.form().keys() {
                    assert_eq!(law.key(name), number(row, name), "{row:?}: {name}");
                }
            }
            TubeModel::VacuumDiode(m) => assert_eq!(m.k, key("k"), "{row:?}"),
            TubeModel::Regulator(_) => panic!("no regulator has such a row"),
        }
        checked += 1;
    }
    assert!(checked >= 55, "{checked}");
}

#[test]
fn every_recorded_residual_is_what_the_catalogue_gives() {
    let mut checked = 0;
    for row in rows(RESIDUALS).iter().filter(|row| in_catalogue(row)) {
        let recorded = number(row, "model").unwrap();
        let found = computed(row);
        // Five digits are recorded; a slope by differences of two formulations agrees to a part in a thousand.
        assert!((found / recorded - 1.0).abs() < 2e-3, "{found} against {row:?}");
        checked += 1;
    }
    assert!(checked > 300, "{checked}");
}

#[test]
fn published_currents_and_slopes_are_met_within_ten_per_cent() {
    // Published characteristics (tests/published/fit/points.csv); rows of low confidence do not judge.
    let mut checked = 0;
    for row in rows(RESIDUALS).iter().filter(|row| in_catalogue(row)) {
        let judged = row["kind"] == "static" && row["confidence"] != "low";
        if judged && ["ia_A", "gm_S"].contains(&row["quantity"].as_str()) {
            let published = number(row, "published").unwrap();
            assert!((computed(row) / published - 1.0).abs() < 0.1, "{row:?}");
            checked += 1;
        }
    }
    assert!(checked > 90, "{checked}");
}

#[test]
fn screens_at_published_points_draw_what_is_published_within_fifteen_per_cent() {
    // One share for each tube (tests/published/fit/points.csv, points-recalled.csv); screen currents are printed to a
    // half or a whole milliampere. That of the 6V6GT at 315 V is the worst, 14 % high.
    let mut checked = 0;
    for row in rows(RESIDUALS).iter().filter(|row| row["kind"] == "static" && row["quantity"] == "ig2_A") {
        assert!((computed(row) / number(row, "published").unwrap() - 1.0).abs() < 0.15, "{row:?}");
        checked += 1;
    }
    assert!(checked >= 25, "{checked}");
}

#[test]
fn a_screen_draws_its_share_wherever_the_plate_does() {
    for entry in Catalogue::built_in().tubes() {
        for section in &entry.sections {
            let TubeModel::Pentode(PentodeLaw::Divided(m)) = &section.model else { continue };
            // From full conduction to a starved screen far down the grid base.
            for (plate, screen, grid) in
                [(200.0, 150.0, -1.0), (100.0, 40.0, -1.5), (60.0, 30.0, -2.5), (250.0, 250.0, -40.0)]
            {
                let (plate_current, screen_current) = pentode(m, plate, screen, grid);
                let share = screen_current / plate_current;
                assert!(share > 0.01 && share < 0.6, "{}: {share} at {plate}, {screen}, {grid}", entry.name);
            }
            // Toward no plate voltage it takes over the whole.
            let (plate_current, screen_current) = pentode(m, 0.01, 100.0, 0.0);
            assert!(plate_current < 1e-3 * screen_current, "{}", entry.name);
        }
    }
}

#[test]
fn the_low_voltage_columns_are_met_within_ten_per_cent_but_for_one_family() {
    // Second characteristics columns (tests/published/fit/points-recalled.csv), from memory. The 6SN7 family also has a
    // published current near cut-off and charts; five keys cannot hold all of it, and here its current is 18 % low.
    let mut checked = 0;
    for row in rows(RESIDUALS).iter().filter(|row| row["kind"] == "low-voltage" && row["quantity"] != "mu") {
        let family = ["6SN7GTB", "6CG7"].contains(&row["tube"].as_str());
        let allowed = if family { 0.18 } else { 0.1 };
        let published = number(row, "published").unwrap();
        assert!((computed(row) / published - 1.0).abs() < allowed, "{row:?}");
        checked += 1;
    }
    assert_eq!(checked, 14);
}

#[test]
fn nine_of_ten_published_gains_from_180_volts_up_are_met_within_ten_per_cent() {
    // Resistance-coupled charts (tests/published/fit/charts.csv); the scored rows were kept out of the fit.
    let gains: Vec<Row> = rows(RESIDUALS)
        .into_iter()
        .filter(|row| row["quantity"] == "gain" && number(row, "ebb_V") >= Some(180.0))
        .collect();
    let pentodes: Vec<&Row> = gains.iter().filter(|row| number(row, "rg2_ohm").is_some()).collect();
    assert_eq!(pentodes.len(), 26);
    for role in ["fit", "score"] {
        let errors = pentodes
            .iter()
            .filter(|row| row["role"] == role)
            .map(|row| computed(row) / number(row, "published").unwrap() - 1.0);
        let errors: Vec<f64> = errors.collect();
        let inside = errors.iter().filter(|error| error.abs() <= 0.1).count();
        assert!(errors.len() >= 10 && inside * 10 >= errors.len() * 9, "{role}: {errors:?}");
    }
    for role in ["fit", "score"] {
        let of_role: Vec<&Row> = gains.iter().filter(|row| row["role"] == role).collect();
        let inside =
            of_role.iter().filter(|row| (computed(row) / number(row, "published").unwrap() - 1.0).abs() <= 0.1).count();
        assert!(of_role.len() > 20, "{role}: {}", of_role.len());
        assert!(inside * 10 >= of_role.len() * 9, "{role}: {inside} of {}", of_role.len());
    }
}

#[test]
fn rectifiers_drop_what_is_published() {
    // Published tube drops (tests/published/fit/rectifiers.csv); where two differ the larger is carried.
    let mut checked = 0;
    for row in rows(RECTIFIER_RESIDUALS) {
        if row["kind"] == "drop" && row["role"] == "fit" {
            let tube = Catalogue::built_in().tube(&row["tube"]).unwrap();
            let TubeModel::VacuumDiode(model) = &tube.sections[0].model else { panic!("{row:?}") };
            let published = number(&row, "published_V").unwrap();
            let drop = (number(&row, "current_mA").unwrap() * 1e-3 / model.k).powf(2.0 / 3.0);
            assert!((drop / published - 1.0).abs() < 0.005, "{drop} against {row:?}");
            checked += 1;
        }
    }
    assert!(checked >= 8, "{checked}");
}

#[test]
fn the_fit_meets_published_rectifier_operation_within_four_per_cent() {
    // Computed by the fit's own small simulation (tests/published/fit/fit.py), recorded there.
    let operation: Vec<f64> = rows(RECTIFIER_RESIDUALS)
        .iter()
        .filter(|row| row["kind"] != "drop")
        .map(|row| number(row, "error_pct").unwrap())
        .collect();
    assert_eq!(operation.len(), 19);
    assert!(operation.iter().all(|error| error.abs() < 4.0), "{operation:?}");
}
