//! Follows every path of a model to its end. The checker looks for promises of an end only along paths
//! that do not go round, so it is shown here that none does.

use std::{
    collections::{HashMap, HashSet},
    hash::Hash,
};

use stateright::Model;

/// The states that a walk has entered, and whether it has left them again.
type Seen<S> = HashMap<S, bool>;

/// Every state in which nothing can happen any more; else a state that can come again.
pub(crate) fn ends<M>(model: &M) -> Result<HashSet<M::State>, M::State>
where
    M: Model,
    M::State: Clone + Eq + Hash,
{
    let mut ends = HashSet::new();
    let mut seen: Seen<M::State> = HashMap::new();
    for beginning in model.init_states() {
        let mut ahead = vec![beginning];
        while let Some(state) = ahead.last().cloned() {
            match seen.get(&state) {
                Some(true) => drop(ahead.pop()),
                // All that comes after it was followed.
                Some(false) => {
                    seen.insert(state, true);
                    ahead.pop();
                }
                None => {
                    seen.insert(state.clone(), false);
                    let next = model.next_states(&state);
                    if next.is_empty() {
                        ends.insert(state);
                    }
                    for next in next {
                        match seen.get(&next) {
                            Some(true) => {}
                            Some(false) => return Err(next),
                            None => ahead.push(next),
                        }
                    }
                }
            }
        }
    }
    Ok(ends)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Numbers, each with those that may follow it.
    struct Steps(&'static [&'static [usize]]);

    impl Model for Steps {
        type State = usize;
        type Action = usize;

        fn init_states(&self) -> Vec<usize> {
            vec![0]
        }

        fn actions(&self, state: &usize, actions: &mut Vec<usize>) {
            actions.extend(self.0[*state]);
        }

        fn next_state(&self, _state: &usize, action: usize) -> Option<usize> {
            Some(action)
        }
    }

    #[test]
    fn a_way_round_is_found_and_ways_that_meet_are_none() {
        assert_eq!(ends(&Steps(&[&[1, 2], &[3], &[3], &[]])), Ok([3].into()));
        assert_eq!(ends(&Steps(&[&[1, 2], &[], &[]])), Ok([1, 2].into()));
        assert_eq!(ends(&Steps(&[&[1], &[2], &[1]])), Err(1));
        assert_eq!(ends(&Steps(&[&[0]])), Err(0));
    }
}
