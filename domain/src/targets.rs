//! Target faces, the rounds shot on them, and the rule that decides a line. Knows the rule book;
//! nothing of archers, groups or where arrows tend to land.
//!
//! Some national bodies give a line to the lower zone or count five zones; this is the
//! international rule only. Line widths, article numbers and size limits are from memory: have
//! somebody with the current book confirm them before a dispute hangs on one.

use thiserror::Error;

/// Scoring zones of a full face.
pub const ZONES: u8 = 10;

/// Diameters taken for a target face, in mm. No rule: it keeps slips of unit and keyboard out.
const DIAMETERS_MM: std::ops::RangeInclusive<f64> = 10.0..=10_000.0;

/// The standard faces and the widest dividing line allowed on each, in mm. From memory.
const MAX_LINE_WIDTHS: [(f64, u32); 4] = [(1220.0, 2), (800.0, 2), (600.0, 1), (400.0, 1)];

/// One ring of a face: an arrow whose shaft touches or crosses its edge scores at least `score`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Zone {
    /// Points for an arrow in this zone.
    pub score: u8,
    /// Outer diameter in mm.
    pub diameter_mm: f64,
}

/// A full ten-zone face.
#[derive(Debug, Clone, PartialEq)]
pub struct TargetFace {
    /// The zones, the ten first.
    pub zones: Vec<Zone>,
    /// Diameter of the inner ten (the X), in mm.
    pub inner_ten_diameter_mm: f64,
    /// Width of every zone, in mm.
    pub zone_width_mm: f64,
    /// The widest dividing line the rules allow, in mm; none is known for a face that isn't
    /// standard.
    pub max_line_width_mm: Option<u32>,
}

/// Why a face or round cannot be given.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum TargetError {
    /// Not the diameter of a target.
    #[error(
        "face_diameter_mm must be from {} to {}, got {face_diameter_mm}",
        DIAMETERS_MM.start(),
        DIAMETERS_MM.end()
    )]
    FaceDiameter {
        /// As given.
        face_diameter_mm: f64,
    },
    /// No round of that name is known here.
    #[error("round {name:?} is not known; known rounds: {}", known_rounds())]
    UnknownRound {
        /// As given, cut short when long.
        name: String,
    },
}

/// The zones of a ten-zone face of the given diameter.
///
/// # Formula
///
/// Zones of equal width: the zone for score `s` has outer diameter `(11 − s) D / 10`; each zone is
/// `D / 20` wide; the inner ten is half the ten, `D / 20` across.
///
/// # Domain
///
/// `D` from 10 to 10 000 mm. The standard faces are 1220, 800, 600 and 400 mm; on any other the
/// zones follow from the diameter, and the line width is not given.
///
/// # Errors
///
/// A diameter outside its domain, NaN included.
///
/// # Example
///
/// ```
/// let face = domain::targets::target_face(1220.0)?;
/// assert_eq!(face.zones.first().map(|ten| ten.diameter_mm), Some(122.0));
/// assert_eq!(face.inner_ten_diameter_mm, 61.0);
/// assert_eq!(face.max_line_width_mm, Some(2));
/// # Ok::<(), domain::targets::TargetError>(())
/// ```
///
/// # References
///
/// World Archery rule book, book 2 (events), ch. 7, art. 7.2.2. Article number and line widths from
/// memory.
pub fn target_face(face_diameter_mm: f64) -> Result<TargetFace, TargetError> {
    if !DIAMETERS_MM.contains(&face_diameter_mm) {
        return Err(TargetError::FaceDiameter { face_diameter_mm });
    }
    let zones = (1..=ZONES)
        .rev()
        .map(|score| Zone {
            score,
            diameter_mm: f64::from(ZONES + 1 - score) * face_diameter_mm / f64::from(ZONES),
        })
        .collect();
    let zone_width_mm = face_diameter_mm / f64::from(2 * ZONES);
    let max_line_width_mm = MAX_LINE_WIDTHS
        .iter()
        .find(|(standard_mm, _)| standard_mm.total_cmp(&face_diameter_mm).is_eq())
        .map(|(_, width_mm)| *width_mm);
    Ok(TargetFace { zones, inner_ten_diameter_mm: zone_width_mm, zone_width_mm, max_line_width_mm })
}

/// What of an arrow decides its score.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ScoredBy {
    /// The shaft where it stands in the face; nocks and vanes don't count.
    Shaft,
}

/// Which zone an arrow touching a dividing line scores.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TouchingLine {
    /// The one worth more: the line belongs to the higher zone.
    HigherValue,
}

/// How arrows are scored, and how thick they may be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ScoringRule {
    /// What of the arrow counts.
    pub scored_by: ScoredBy,
    /// Who gets the line.
    pub touching_line: TouchingLine,
    /// Thickest shaft allowed, in mm.
    pub max_shaft_mm: f64,
    /// Thickest point allowed, in mm.
    pub max_point_mm: f64,
}

/// The international rule: the shaft decides, and a line belongs to the higher zone.
///
/// # References
///
/// World Archery rule book, book 3 (target), art. 14.2 for scoring and art. 11 for the arrow.
/// Article numbers and the two diameters from memory.
pub const SCORING_RULE: ScoringRule = ScoringRule {
    scored_by: ScoredBy::Shaft,
    touching_line: TouchingLine::HigherValue,
    max_shaft_mm: 9.3,
    max_point_mm: 9.4,
};

/// Whether a shaft touches the zone of the given outer diameter: the line cutter's question.
///
/// # Formula
///
/// `2 √(x² + y²) <= zone + shaft`, compared squared; a bare touch counts.
///
/// # Domain
///
/// Shaft centre measured from the centre of the face, everything in whole micrometres.
///
/// # Numerical notes
///
/// Integer arithmetic throughout, wide enough for every input, so a bare touch never flips by
/// rounding.
///
/// # Example
///
/// ```
/// // A 5.5 mm shaft 63.75 mm out just reaches a 122 mm ten; a hundredth more and it does not.
/// assert!(domain::targets::touches_zone(122_000, 5_500, (38_250, 51_000)));
/// assert!(!domain::targets::touches_zone(122_000, 5_500, (38_250, 51_010)));
/// ```
///
/// # References
///
/// [`SCORING_RULE`].
#[must_use]
pub fn touches_zone(zone_diameter_um: u32, shaft_diameter_um: u32, centre_um: (i32, i32)) -> bool {
    let (x, y) = (i128::from(centre_um.0), i128::from(centre_um.1));
    let reach = i128::from(zone_diameter_um) + i128::from(shaft_diameter_um);
    4 * (x * x + y * y) <= reach * reach
}

/// The division a round is written for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RoundDivision {
    /// Recurve bows.
    Recurve,
    /// Compound bows.
    Compound,
}

/// A round: so many arrows at each of its distances.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Round {
    /// What it is called.
    pub name: &'static str,
    /// Arrows shot at each distance.
    pub arrows_per_distance: u32,
    /// The sets of distances it is shot over, in m, longest distance first. More than one set where
    /// the class of the archer decides.
    pub distance_choices_m: &'static [&'static [u32]],
    /// The face at each distance, in cm.
    pub faces_cm: &'static [u32],
    /// The lowest score printed on the face: 1 on a full face, 5 on the six-ring one.
    pub lowest_score: u8,
    /// The division it is written for, where it is written for one.
    pub division: Option<RoundDivision>,
    /// Compound archers score ten for the inner ten only.
    pub compound_inner_ten: bool,
    /// Its names with case, spaces and the word "round" taken out.
    keys: &'static [&'static str],
}

impl Round {
    /// Arrows in the whole round.
    #[must_use]
    pub fn arrows(&self) -> u32 {
        self.faces_cm.iter().map(|_| self.arrows_per_distance).sum()
    }

    /// Points for a round of nothing but tens.
    #[must_use]
    pub fn max_score(&self) -> u32 {
        self.arrows() * u32::from(ZONES)
    }

    /// The one distance of the round, in m; none where there are several.
    #[must_use]
    pub fn distance_m(&self) -> Option<u32> {
        match self.distance_choices_m {
            [[only]] => Some(*only),
            _ => None,
        }
    }

    /// The one face of the round, in cm; none where there are several.
    #[must_use]
    pub fn face_cm(&self) -> Option<u32> {
        match self.faces_cm {
            [only] => Some(*only),
            _ => None,
        }
    }
}

const INDOOR_18: Round = Round {
    name: "18 m indoor round",
    arrows_per_distance: 60,
    distance_choices_m: &[&[18]],
    faces_cm: &[40],
    lowest_score: 1,
    division: None,
    compound_inner_ten: true,
    keys: &["18mindoor", "indoor18m", "18m"],
};

/// The rounds known here.
///
/// # References
///
/// World Archery rule book, book 2, ch. 4; from memory, and so are the classes' distances and the
/// faces of the 1440 round.
pub static ROUNDS: [Round; 5] = [
    Round {
        name: "70 m round",
        arrows_per_distance: 72,
        distance_choices_m: &[&[70]],
        faces_cm: &[122],
        division: Some(RoundDivision::Recurve),
        compound_inner_ten: false,
        keys: &["70m", "70mrecurve", "recurve70m"],
        ..INDOOR_18
    },
    Round {
        name: "50 m compound round",
        arrows_per_distance: 72,
        distance_choices_m: &[&[50]],
        faces_cm: &[80],
        lowest_score: 5,
        division: Some(RoundDivision::Compound),
        compound_inner_ten: false,
        keys: &["50mcompound", "compound50m", "50m"],
    },
    INDOOR_18,
    Round {
        name: "25 m indoor round",
        distance_choices_m: &[&[25]],
        faces_cm: &[60],
        keys: &["25mindoor", "indoor25m", "25m"],
        ..INDOOR_18
    },
    Round {
        name: "1440 round",
        arrows_per_distance: 36,
        distance_choices_m: &[&[90, 70, 50, 30], &[70, 60, 50, 30], &[60, 50, 40, 30]],
        faces_cm: &[122, 122, 80, 80],
        compound_inner_ten: false,
        keys: &["1440", "1440outdoor"],
        ..INDOOR_18
    },
];

/// Finds a round by its name, whatever the case, spaces and punctuation; "metres" is "m" and the
/// word "round" may be left out.
///
/// # Errors
///
/// A name not known here; the error lists those that are.
///
/// # Example
///
/// ```
/// let round = domain::targets::find_round("70M Round")?;
/// assert_eq!((round.arrows(), round.distance_m(), round.max_score()), (72, Some(70), 720));
/// # Ok::<(), domain::targets::TargetError>(())
/// ```
///
/// # References
///
/// [`ROUNDS`].
pub fn find_round(name: &str) -> Result<&'static Round, TargetError> {
    const LONGEST_SHOWN: usize = 60;
    let key = round_key(name);
    ROUNDS.iter().find(|round| round.keys.contains(&key.as_str())).ok_or_else(|| {
        TargetError::UnknownRound { name: name.chars().take(LONGEST_SHOWN).collect() }
    })
}

fn round_key(name: &str) -> String {
    let letters: String =
        name.chars().filter(|c| c.is_alphanumeric()).flat_map(char::to_lowercase).collect();
    ["metres", "meters", "metre", "meter"]
        .iter()
        .fold(letters.replace("round", ""), |key, word| key.replace(word, "m"))
}

fn known_rounds() -> String {
    ROUNDS.map(|round| round.name).join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(name: &str, expected: &str) {
        assert_eq!(find_round(name).map(|round| round.name), Ok(expected), "{name}");
    }

    #[test]
    fn the_ten_and_the_whole_face_bound_the_zones() {
        for diameter_mm in [1220.0, 800.0, 600.0, 400.0, 10.0, 333.3, 10_000.0] {
            let face = target_face(diameter_mm);
            let ends = face.as_ref().map(|face| (face.zones.first(), face.zones.last()));
            let Ok((Some(ten), Some(one))) = ends else { panic!("{face:?}") };
            assert_eq!((ten.score, one.score), (10, 1));
            assert!((ten.diameter_mm * 10.0 - diameter_mm).abs() < 1e-9);
            assert!((one.diameter_mm - diameter_mm).abs() < 1e-9);
        }
    }

    #[test]
    fn only_standard_faces_have_a_line_width() {
        let width = |mm| target_face(mm).map(|face| face.max_line_width_mm);
        for (diameter_mm, width_mm) in MAX_LINE_WIDTHS {
            assert_eq!(width(diameter_mm), Ok(Some(width_mm)));
        }
        assert_eq!(width(500.0), Ok(None));
    }

    #[test]
    fn a_diameter_no_target_has_is_refused() {
        for diameter_mm in [0.0, -400.0, f64::NAN, f64::INFINITY, f64::MAX, f64::MIN_POSITIVE] {
            let refused = target_face(diameter_mm);
            assert!(matches!(refused, Err(TargetError::FaceDiameter { .. })), "{refused:?}");
        }
    }

    #[test]
    fn a_bare_touch_counts_and_a_micrometre_less_does_not() {
        assert!(touches_zone(1_220_000, 5_500, (612_750, 0)));
        assert!(!touches_zone(1_220_000, 5_500, (-612_751, 0)));
        assert!(touches_zone(u32::MAX, u32::MAX, (i32::MIN, i32::MIN)));
        assert!(!touches_zone(0, 0, (i32::MIN, i32::MIN)));
    }

    #[test]
    fn a_round_is_found_however_its_name_is_written() {
        check("70 m round", "70 m round");
        check("  70M ROUND ", "70 m round");
        check("70 metres", "70 m round");
        check("50 m round", "50 m compound round");
        check("50m Compound Round", "50 m compound round");
        check("indoor round, 18 m", "18 m indoor round");
        check("25-m indoor", "25 m indoor round");
        check("1440 Round", "1440 round");
        for round in ROUNDS {
            check(round.name, round.name);
        }
    }

    #[test]
    fn an_unknown_round_is_answered_with_those_that_are_known() {
        for name in ["", "round", "71 m round", "7 0 0 m", &"x".repeat(100_000)] {
            let Err(refused) = find_round(name) else { panic!("{name}") };
            let said = refused.to_string();
            assert!(said.contains("18 m indoor round") && said.len() < 400, "{said}");
        }
    }

    #[test]
    fn the_1440_round_is_named_after_its_score() {
        let scores = ROUNDS.map(|round| round.max_score());
        assert_eq!(scores, [720, 720, 600, 600, 1440]);
    }

    #[test]
    fn every_set_of_distances_has_its_faces() {
        for round in ROUNDS {
            for distances in round.distance_choices_m {
                assert_eq!(distances.len(), round.faces_cm.len(), "{}", round.name);
            }
        }
    }
}
