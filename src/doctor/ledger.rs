//! `tautline doctor ledger`: every counter counted anew and held against the one that is kept.

use std::{
    collections::BTreeMap,
    io::{self, Write},
};

use domain::{clubs::Club, ids::ClubId};
use store::{Store, StoreError, doctor::Findings};

use crate::{open, settings::Settings};

/// Looks at every club; an error if a counter differs and is not mended.
pub(crate) fn ledger(settings: &Settings, mend: bool) -> anyhow::Result<()> {
    let store = open::store(settings)?;
    open::runtime()?.block_on(async {
        let found = look(&store).await?;
        let wrong = report(&found)?;
        if wrong == 0 {
            return Ok(());
        }
        if !mend {
            anyhow::bail!("{wrong} counters differ from their sums; --mend counts them anew");
        }
        for (Club { id, .. }, _) in found {
            store.write::<_, StoreError, _>(move |tx| store::doctor::mend(tx, id)).await?;
        }
        let left = report(&look(&store).await?)?;
        anyhow::ensure!(left == 0, "{left} counters still differ from their sums");
        Ok(())
    })
}

async fn look(store: &Store) -> anyhow::Result<Vec<(Club, Findings)>> {
    let looked = store.read::<_, StoreError, _>(|read| {
        let found: BTreeMap<ClubId, Findings> = store::doctor::all(read)?.into_iter().collect();
        found.into_iter().map(|(id, found)| Ok((store::clubs::get(read, id)?, found))).collect()
    });
    Ok(looked.await?)
}

/// Says what was found; how many counters differ.
fn report(found: &[(Club, Findings)]) -> io::Result<usize> {
    let mut out = io::stdout().lock();
    for (club, Findings { counters, wrong }) in found {
        for one in wrong {
            let words =
                |text: &Option<String>| text.clone().unwrap_or_else(|| "nothing".to_owned());
            let (says, sum) = (words(&one.says), words(&one.sum));
            writeln!(out, "{}: {} says {says}; the sum is {sum}", club.name, one.counter)?;
        }
        let right = counters - wrong.len();
        writeln!(out, "{}: {right} of {counters} counters equal their sums", club.name)?;
    }
    Ok(found.iter().map(|(_, found)| found.wrong.len()).sum())
}
