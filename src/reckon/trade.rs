//! The `trade/*` topics: faces, rounds, rules of thumb and the club's default policy. Puts domain
//! values on the wire; must not hold a number of its own.

use std::collections::BTreeMap;
use std::ops::RangeInclusive;

use domain::planning::event_window as planning;
use domain::rules::common_practice as practice;
use domain::strings::{brace_height as brace, strand_count as strands};
use domain::targets::{self, RoundDivision, ScoredBy, TargetError, TouchingLine};
use domain::trials::speed_loss as trials;
use serde::{Deserialize, Serialize};
use serde_json::Value;

use super::frame::Refusal;
use super::inputs::{inputs, outputs, whole};

/// The inputs of a topic that takes none.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Nothing {}

fn ends(range: &RangeInclusive<u32>) -> [u32; 2] {
    [*range.start(), *range.end()]
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct FaceInputs {
    face_diameter_mm: f64,
}

#[derive(Serialize)]
#[expect(clippy::struct_field_names, reason = "the unit is part of every key on the wire")]
struct FaceOutputs {
    zone_diameter_mm: BTreeMap<u8, f64>,
    inner_ten_diameter_mm: f64,
    zone_width_mm: f64,
    max_line_width_mm: Option<u32>,
}

pub(super) fn target_face(given: &Value) -> Result<Value, Refusal> {
    let FaceInputs { face_diameter_mm } = inputs(given)?;
    let face = targets::target_face(face_diameter_mm)?;
    outputs(&FaceOutputs {
        zone_diameter_mm: face.zones.iter().map(|zone| (zone.score, zone.diameter_mm)).collect(),
        inner_ten_diameter_mm: face.inner_ten_diameter_mm,
        zone_width_mm: face.zone_width_mm,
        max_line_width_mm: face.max_line_width_mm,
    })
}

impl From<TargetError> for Refusal {
    fn from(error: TargetError) -> Self {
        match error {
            TargetError::FaceDiameter { .. } => Self::out_of_range(&error),
            TargetError::UnknownRound { .. } => Self::unknown_name(&error),
        }
    }
}

#[derive(Serialize)]
struct ScoringRuleOutputs {
    scored_by: &'static str,
    touching_line: &'static str,
    max_shaft_mm: f64,
    max_point_mm: f64,
}

pub(super) fn scoring_rule(given: &Value) -> Result<Value, Refusal> {
    let Nothing {} = inputs(given)?;
    let rule = targets::SCORING_RULE;
    outputs(&ScoringRuleOutputs {
        scored_by: match rule.scored_by {
            ScoredBy::Shaft => "shaft",
        },
        touching_line: match rule.touching_line {
            TouchingLine::HigherValue => "higher value",
        },
        max_shaft_mm: rule.max_shaft_mm,
        max_point_mm: rule.max_point_mm,
    })
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RoundInputs {
    round: String,
}

#[derive(Serialize)]
struct RoundOutputs {
    round: &'static str,
    arrows: u32,
    arrows_per_distance: u32,
    distance_m: Option<u32>,
    distance_choices_m: &'static [&'static [u32]],
    face_cm: Option<u32>,
    faces_cm: &'static [u32],
    lowest_score: u8,
    max_score: u32,
    division: Option<&'static str>,
    compound_inner_ten: bool,
}

pub(super) fn round(given: &Value) -> Result<Value, Refusal> {
    let RoundInputs { round } = inputs(given)?;
    let round = targets::find_round(&round)?;
    outputs(&RoundOutputs {
        round: round.name,
        arrows: round.arrows(),
        arrows_per_distance: round.arrows_per_distance,
        distance_m: round.distance_m(),
        distance_choices_m: round.distance_choices_m,
        face_cm: round.face_cm(),
        faces_cm: round.faces_cm,
        lowest_score: round.lowest_score,
        max_score: round.max_score(),
        division: round.division.map(|division| match division {
            RoundDivision::Recurve => "recurve",
            RoundDivision::Compound => "compound",
        }),
        compound_inner_ten: round.compound_inner_ten,
    })
}

#[derive(Serialize)]
struct BraceHeightOutputs {
    recurve_brace_height_in_by_bow_length: BTreeMap<u32, [f64; 2]>,
}

pub(super) fn brace_height(given: &Value) -> Result<Value, Refusal> {
    let Nothing {} = inputs(given)?;
    outputs(&BraceHeightOutputs {
        recurve_brace_height_in_by_bow_length: brace::RECURVE
            .iter()
            .map(|range| (range.bow_length_in, [range.lowest_in, range.highest_in]))
            .collect(),
    })
}

#[derive(Serialize)]
struct StrandCountOutputs {
    polyester_strands_by_max_draw_weight_lbf: BTreeMap<u32, u32>,
    hmpe_range: [u32; 2],
    blend_range: [u32; 2],
}

pub(super) fn strand_count(given: &Value) -> Result<Value, Refusal> {
    let Nothing {} = inputs(given)?;
    outputs(&StrandCountOutputs {
        polyester_strands_by_max_draw_weight_lbf: strands::POLYESTER
            .iter()
            .map(|step| (step.max_draw_weight_lbf, step.strands))
            .collect(),
        hmpe_range: ends(&strands::HMPE),
        blend_range: ends(&strands::BLEND),
    })
}

#[derive(Serialize)]
struct ClubPolicyOutputs {
    settle_in_shots: u32,
    string_plan_shots: u32,
    string_retire_shots: u32,
    string_reject_setting_above_shots: u32,
    serving_inspect_shots: u32,
    serving_life_shots_range: [u32; 2],
    wax_check_days: u32,
}

pub(super) fn club_policy(given: &Value) -> Result<Value, Refusal> {
    let Nothing {} = inputs(given)?;
    outputs(&ClubPolicyOutputs {
        settle_in_shots: practice::SETTLE_IN_SHOTS,
        string_plan_shots: practice::STRING_PLAN_SHOTS,
        string_retire_shots: practice::STRING_RETIRE_SHOTS,
        string_reject_setting_above_shots: practice::STRING_REJECT_SETTING_ABOVE_SHOTS,
        serving_inspect_shots: practice::SERVING_INSPECT_SHOTS,
        serving_life_shots_range: ends(&practice::SERVING_LIFE_SHOTS),
        wax_check_days: practice::WAX_CHECK_DAYS,
    })
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct SpeedLossInputs {
    old_ft_s: f64,
    new_ft_s: f64,
    #[serde(deserialize_with = "whole")]
    readings_each: u32,
}

#[derive(Serialize)]
struct SpeedLossOutputs {
    loss_percent: f64,
    loss_m_s: f64,
    readings_each: u32,
}

pub(super) fn speed_loss(given: &Value) -> Result<Value, Refusal> {
    let SpeedLossInputs { old_ft_s, new_ft_s, readings_each } = inputs(given)?;
    let loss = trials::speed_loss(old_ft_s, new_ft_s, readings_each)
        .map_err(|error| Refusal::out_of_range(&error))?;
    outputs(&SpeedLossOutputs {
        loss_percent: loss.loss_percent,
        loss_m_s: loss.loss_m_s,
        readings_each: loss.readings_each,
    })
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct EventWindowInputs {
    #[serde(deserialize_with = "whole")]
    settle_in_shots: u32,
    #[serde(deserialize_with = "whole")]
    sight_in_shots: u32,
    mean_shots_per_week: f64,
    sessions_per_week: f64,
}

#[derive(Serialize)]
struct EventWindowOutputs {
    min_lead_weeks: f64,
    min_lead_sessions: u32,
}

pub(super) fn event_window(given: &Value) -> Result<Value, Refusal> {
    let asked: EventWindowInputs = inputs(given)?;
    let window = planning::event_window(
        asked.settle_in_shots,
        asked.sight_in_shots,
        asked.mean_shots_per_week,
        asked.sessions_per_week,
    )
    .map_err(|error| Refusal::out_of_range(&error))?;
    outputs(&EventWindowOutputs {
        min_lead_weeks: window.min_lead_weeks,
        min_lead_sessions: window.min_lead_sessions,
    })
}
