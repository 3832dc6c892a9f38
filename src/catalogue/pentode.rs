//! The models of pentodes and beam tetrodes: their published forms and the keys of each. Units: V, A.

/// Koren pentode (Glass Audio 8(5), 1996): `form=koren`. Its screen current cuts off before its plate current does.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PentodeModel {
    /// Amplification factor, grid to screen.
    pub mu: f64,
    /// Exponent.
    pub x: f64,
    /// Plate current scale.
    pub kg1: f64,
    /// Screen current scale.
    pub kg2: f64,
    /// Knee of the grid family.
    pub kp: f64,
    /// Knee of the plate family, V.
    pub kvb: f64,
    /// Grid conduction resistance for a positive grid, Ω, where known.
    pub rgi: Option<f64>,
}

/// One space current that plate and screen divide: `form=divided`.
///
/// V = Vg2 + Vp·mu/mup (the equivalent voltage of a multi-grid tube: Spangenberg, Vacuum Tubes, McGraw-Hill 1948);
/// E = (V/kp)·ln(1 + exp(kp·(1/mu + Vg/√(1 V² + V²)))), I = 2·E^x/kg1 (Koren's way to cut-off, Glass Audio 8(5), 1996).
/// Above the knee the screen current is split·(Vg2/Vp)^tilt of the plate current (Tank, Jahrbuch der drahtlosen
/// Telegraphie 20, 1922), which leaves the plate I0; space charge before the plate passes knee·Vp^1.5 at most (Salzberg
/// and Haeff, RCA Review 2, 1938), joined as Ip = I0·(1 − exp(−knee·Vp^1.5/I0)), a choice of this project. The screen
/// takes the rest. The papers are cited from memory. Secondary emission is not in it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DividedPentodeModel {
    /// Amplification factor, grid to screen.
    pub mu: f64,
    /// Exponent.
    pub x: f64,
    /// Scale of the space current.
    pub kg1: f64,
    /// Knee of the grid family.
    pub kp: f64,
    /// Amplification factor, grid to plate, of the space current.
    pub mup: f64,
    /// Screen current over plate current with both at one voltage.
    pub split: f64,
    /// Power by which that ratio falls as the plate voltage rises above the screen's.
    pub tilt: f64,
    /// Perveance of the space before the plate, A/V^1.5.
    pub knee: f64,
    /// Grid conduction resistance for a positive grid, Ω, where known.
    pub rgi: Option<f64>,
}

/// Which published form a pentode's model has.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PentodeForm {
    /// See [`PentodeModel`].
    Koren,
    /// See [`DividedPentodeModel`].
    Divided,
}

/// The model of a pentode or beam tetrode in one of the forms.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum PentodeLaw {
    /// `form=koren`.
    Koren(PentodeModel),
    /// `form=divided`.
    Divided(DividedPentodeModel),
}

impl From<PentodeModel> for PentodeLaw {
    fn from(model: PentodeModel) -> Self {
        Self::Koren(model)
    }
}

impl From<DividedPentodeModel> for PentodeLaw {
    fn from(model: DividedPentodeModel) -> Self {
        Self::Divided(model)
    }
}

impl PentodeForm {
    /// The words that `form=` takes.
    pub const WORDS: [&'static str; 2] = ["koren", "divided"];

    /// The form of a word.
    #[must_use]
    pub fn of(word: &str) -> Option<Self> {
        [Self::Koren, Self::Divided].into_iter().find(|form| form.word() == word)
    }

    /// How `form=` is written.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Koren => "koren",
            Self::Divided => "divided",
        }
    }

    /// The keys that such a model must have.
    #[must_use]
    pub fn keys(self) -> &'static [&'static str] {
        match self {
            Self::Koren => &["mu", "x", "kg1", "kg2", "kp", "kvb"],
            Self::Divided => &["mu", "x", "kg1", "kp", "mup", "split", "tilt", "knee"],
        }
    }
}

impl PentodeLaw {
    /// The model of a form, its keys had by name; `None` where one is not to be had. Every key is asked for.
    pub fn read(form: PentodeForm, rgi: Option<f64>, key: impl FnMut(&'static str) -> Option<f64>) -> Option<Self> {
        let values: Vec<Option<f64>> = form.keys().iter().copied().map(key).collect();
        Some(match (form, values.as_slice()) {
            (PentodeForm::Koren, &[mu, x, kg1, kg2, kp, kvb]) => {
                PentodeModel { mu: mu?, x: x?, kg1: kg1?, kg2: kg2?, kp: kp?, kvb: kvb?, rgi }.into()
            }
            (PentodeForm::Divided, &[mu, x, kg1, kp, mup, split, tilt, knee]) => DividedPentodeModel {
                mu: mu?,
                x: x?,
                kg1: kg1?,
                kp: kp?,
                mup: mup?,
                split: split?,
                tilt: tilt?,
                knee: knee?,
                rgi,
            }
            .into(),
            _ => return None,
        })
    }

    /// Its form.
    #[must_use]
    pub fn form(&self) -> PentodeForm {
        match self {
            Self::Koren(_) => PentodeForm::Koren,
            Self::Divided(_) => PentodeForm::Divided,
        }
    }

    /// Grid conduction resistance for a positive grid, Ω, where known.
    #[must_use]
    pub fn rgi(&self) -> Option<f64> {
        match self {
            Self::Koren(m) => m.rgi,
            Self::Divided(m) => m.rgi,
        }
    }

    /// A key of its form; `None` for any other name.
    #[must_use]
    pub fn key(&self, name: &str) -> Option<f64> {
        let mut law = *self;
        law.key_mut(name).copied()
    }

    /// A key of its form, to be changed; `None` for any other name.
    pub fn key_mut(&mut self, name: &str) -> Option<&mut f64> {
        Some(match (self, name) {
            (Self::Koren(m), "mu") => &mut m.mu,
            (Self::Koren(m), "x") => &mut m.x,
            (Self::Koren(m), "kg1") => &mut m.kg1,
            (Self::Koren(m), "kg2") => &mut m.kg2,
            (Self::Koren(m), "kp") => &mut m.kp,
            (Self::Koren(m), "kvb") => &mut m.kvb,
            (Self::Divided(m), "mu") => &mut m.mu,
            (Self::Divided(m), "x") => &mut m.x,
            (Self::Divided(m), "kg1") => &mut m.kg1,
            (Self::Divided(m), "kp") => &mut m.kp,
            (Self::Divided(m), "mup") => &mut m.mup,
            (Self::Divided(m), "split") => &mut m.split,
            (Self::Divided(m), "tilt") => &mut m.tilt,
            (Self::Divided(m), "knee") => &mut m.knee,
            _ => return None,
        })
    }

    /// The same model with what `key` gives in place of its own keys, in the form that `form` names.
    ///
    /// `None` where the form is another and `key` does not give all its keys.
    pub fn changed(&self, form: PentodeForm, rgi: Option<f64>, key: impl Fn(&str) -> Option<f64>) -> Option<Self> {
        let own = |name: &str| if form == self.form() { self.key(name) } else { None };
        Self::read(form, rgi.or(self.rgi()), |name| key(name).or_else(|| own(name)))
    }

    /// The same tube with a cathode that gives a share of its full emission, above zero.
    #[must_use]
    pub fn emitting(self, share: f64) -> Self {
        match self {
            Self::Koren(m) => PentodeModel { kg1: m.kg1 / share, kg2: m.kg2 / share, ..m }.into(),
            // What space charge does before the plate rests on geometry alone.
            Self::Divided(m) => DividedPentodeModel { kg1: m.kg1 / share, ..m }.into(),
        }
    }
}
