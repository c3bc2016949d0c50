//! How long before an event the last string or serving change may be made. Knows shots and
//! shooting rates; nothing of calendars, blocked days or bench slots.

use thiserror::Error;

/// Leads longer than this are refused: at such a rate the string is not being shot.
const MAX_LEAD_WEEKS: f64 = 5_200.0;

/// More sessions a week than this is a slip of the keyboard.
const MAX_SESSIONS_PER_WEEK: f64 = 100.0;

/// A session count this close, relatively, to a whole number is that number.
const WHOLE_SESSION_TOLERANCE: f64 = 1e-12;

/// The shortest time that must lie between a change and the event.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EventWindow {
    /// Weeks of the archer's usual shooting.
    pub min_lead_weeks: f64,
    /// Whole sessions, rounded up.
    pub min_lead_sessions: u32,
}

/// Why no window can be given.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum EventWindowError {
    /// Nobody who doesn't shoot gets a string settled.
    #[error("mean_shots_per_week must be a finite number above 0, got {mean_shots_per_week}")]
    ShotsPerWeek {
        /// As given.
        mean_shots_per_week: f64,
    },
    /// No sessions, or more than a week holds.
    #[error(
        "sessions_per_week must be above 0 and at most {MAX_SESSIONS_PER_WEEK}, \
         got {sessions_per_week}"
    )]
    SessionsPerWeek {
        /// As given.
        sessions_per_week: f64,
    },
    /// The shots would take longer than any season.
    #[error(
        "mean_shots_per_week of {mean_shots_per_week} is too few: \
         {needed_shots} shots would take more than {MAX_LEAD_WEEKS} weeks"
    )]
    TooFewShotsPerWeek {
        /// Settle-in and sight-in together.
        needed_shots: u64,
        /// As given.
        mean_shots_per_week: f64,
    },
}

/// The lead a string or serving change needs before an event: the settle-in shots and one
/// sight-in, shot at the archer's usual rate.
///
/// # Formula
///
/// With `n = settle_in + sight_in`, mean weekly shots `m` and `s` sessions a week:
/// `weeks = n / m`, `sessions = ceil(n / (m / s))`.
///
/// # Domain
///
/// Shots are whole and may be 0; `m` is finite and above 0; `s` is above 0 and at most 100.
///
/// # Errors
///
/// A rate outside its domain, or one so low that the lead passes 5200 weeks.
///
/// # Numerical notes
///
/// The sessions are found as `n s / m`, and a value within 1e-12 (relative) of a whole number counts
/// as that number: `350 / (350 / 3)` is 3 sessions, although in binary the quotient lands a hair
/// above 3 and a bare ceiling would say 4. Any shots at all need at least one session.
///
/// # Example
///
/// ```
/// use domain::planning::event_window::event_window;
/// let window = event_window(200, 72, 360.0, 3.0)?;
/// assert!((window.min_lead_weeks - 272.0 / 360.0).abs() < 1e-15);
/// assert_eq!(window.min_lead_sessions, 3);
/// # Ok::<(), domain::planning::event_window::EventWindowError>(())
/// ```
///
/// # References
///
/// Common practice, no source.
pub fn event_window(
    settle_in_shots: u32,
    sight_in_shots: u32,
    mean_shots_per_week: f64,
    sessions_per_week: f64,
) -> Result<EventWindow, EventWindowError> {
    if !(mean_shots_per_week.is_finite() && mean_shots_per_week > 0.0) {
        return Err(EventWindowError::ShotsPerWeek { mean_shots_per_week });
    }
    if !(sessions_per_week > 0.0 && sessions_per_week <= MAX_SESSIONS_PER_WEEK) {
        return Err(EventWindowError::SessionsPerWeek { sessions_per_week });
    }
    let shots = f64::from(settle_in_shots) + f64::from(sight_in_shots);
    let min_lead_weeks = shots / mean_shots_per_week;
    if min_lead_weeks > MAX_LEAD_WEEKS {
        return Err(EventWindowError::TooFewShotsPerWeek {
            needed_shots: u64::from(settle_in_shots) + u64::from(sight_in_shots),
            mean_shots_per_week,
        });
    }
    let at_least = u32::from(shots > 0.0);
    let min_lead_sessions =
        whole_sessions(shots * sessions_per_week / mean_shots_per_week).max(at_least);
    Ok(EventWindow { min_lead_weeks, min_lead_sessions })
}

/// Rounds up, but not for a remainder that only rounding made.
fn whole_sessions(sessions: f64) -> u32 {
    let nearest = sessions.round();
    let whole = if (sessions - nearest).abs() <= WHOLE_SESSION_TOLERANCE * nearest {
        nearest
    } else {
        sessions.ceil()
    };
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "whole, not negative, and at most MAX_LEAD_WEEKS times MAX_SESSIONS_PER_WEEK"
    )]
    let count = whole as u32;
    count
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(shots: (u32, u32), per_week: (f64, f64), expected_sessions: u32) {
        let window = event_window(shots.0, shots.1, per_week.0, per_week.1);
        assert_eq!(window.map(|window| window.min_lead_sessions), Ok(expected_sessions));
    }

    #[test]
    fn a_part_session_counts_as_a_session() {
        check((200, 72), (360.0, 3.0), 3);
        check((200, 41), (360.0, 3.0), 3);
        check((200, 1), (1_000_000.0, 1.0), 1);
    }

    #[test]
    fn shots_that_fill_their_sessions_exactly_need_no_more() {
        check((200, 40), (360.0, 3.0), 2);
        check((300, 50), (350.0, 3.0), 3);
        check((3, 0), (0.3, 0.1), 1);
    }

    /// Every pair of rates whose sessions divide the shots, against integer arithmetic.
    #[test]
    fn sessions_agree_with_integer_arithmetic() {
        for shots in (0..=600).step_by(7) {
            for mean in 1..=80_u32 {
                for sessions in 1..=7_u32 {
                    let expected = (shots * sessions).div_ceil(mean);
                    check((shots, 0), (f64::from(mean), f64::from(sessions)), expected);
                }
            }
        }
    }

    #[test]
    fn nothing_to_shoot_needs_no_lead() {
        let window = event_window(0, 0, 360.0, 3.0);
        assert_eq!(window, Ok(EventWindow { min_lead_weeks: 0.0, min_lead_sessions: 0 }));
    }

    #[test]
    fn a_rate_that_is_no_rate_is_refused() {
        for mean in [0.0, -1.0, f64::NAN, f64::INFINITY, -0.0] {
            let refused = event_window(200, 72, mean, 3.0);
            assert!(matches!(refused, Err(EventWindowError::ShotsPerWeek { .. })), "{mean}");
        }
        for sessions in [0.0, -1.0, f64::NAN, f64::INFINITY, 100.5] {
            let refused = event_window(200, 72, 360.0, sessions);
            assert!(matches!(refused, Err(EventWindowError::SessionsPerWeek { .. })), "{sessions}");
        }
    }

    #[test]
    fn a_string_nobody_shoots_never_settles() {
        for mean in [f64::MIN_POSITIVE, 1e-9, 0.01] {
            let refused = event_window(u32::MAX, u32::MAX, mean, 3.0);
            assert!(matches!(refused, Err(EventWindowError::TooFewShotsPerWeek { .. })), "{mean}");
        }
    }
}
