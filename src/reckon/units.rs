//! The `units/*` topics: the exact ratios between units. Computes nothing that `domain::units` does
//! not.

use domain::units;
use serde::Serialize;
use serde_json::Value;

use super::frame::Refusal;
use super::inputs::{inputs, outputs};
use super::trade::Nothing;

#[derive(Serialize)]
struct Exact {
    ft_s_in_m_s: f64,
    inch_in_mm: f64,
    grain_in_mg: f64,
    #[serde(rename = "lbf_in_N")]
    lbf_in_n: f64,
    v193_m_s: f64,
    v197_m_s: f64,
    ratio_193_197: f64,
}

pub(super) fn exact(given: &Value) -> Result<Value, Refusal> {
    let Nothing {} = inputs(given)?;
    let (old_m_s, new_m_s) = (units::ft_s_to_m_s(193.0), units::ft_s_to_m_s(197.0));
    outputs(&Exact {
        ft_s_in_m_s: units::ft_s_to_m_s(1.0),
        inch_in_mm: units::in_to_mm(1.0),
        grain_in_mg: units::grain_to_mg(1.0),
        lbf_in_n: units::lbf_to_n(1.0),
        v193_m_s: old_m_s,
        v197_m_s: new_m_s,
        ratio_193_197: old_m_s / new_m_s,
    })
}
