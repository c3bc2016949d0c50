//! Opening what the settings name: the database, the way mail goes, a worker over both.

use std::{path::PathBuf, sync::Arc, time::Duration};

use domain::time::Clock;
use jiff::SignedDuration;
use store::{DatabaseUrl, OpenError, Store, seals::Seals};
use worker::{
    Sending, Worker,
    mail::{TALK_LIMIT, Transport},
};

use crate::settings::{DATABASE_URL, MAIL_RETURN_PATH, SMTP_URL, SettingError, Settings};

/// Where the records are unless something else is set.
const DATABASE: &str = "tautline.db";
/// Where mail goes unless something else is set.
const MAIL: &str = "mail";

/// The database that the settings name.
pub(crate) fn database_url(settings: &Settings) -> DatabaseUrl {
    settings.database_url.clone().unwrap_or_else(|| DatabaseUrl::Sqlite(DATABASE.to_owned()))
}

/// That database, opened and brought up to date.
pub(crate) fn store(settings: &Settings) -> Result<Store, SettingError> {
    Store::open(&database_url(settings)).map_err(|error| match error {
        OpenError::Connect { .. } | OpenError::Migrate(_) => SettingError::new(DATABASE_URL, error),
    })
}

/// A worker that sends as the settings say.
pub(crate) fn worker(
    settings: &Settings,
    store: Store,
    seals: Seals,
    clock: Arc<dyn Clock>,
) -> Result<Worker, SettingError> {
    let transport = transport(settings)?;
    let sending = Sending {
        from: settings.mail_from.clone(),
        base_url: settings.base_url.clone(),
        lease: settings.mail_lease,
        per_minute: settings.mail_per_minute,
        seals,
    };
    Ok(Worker::new(store, clock, transport, sending))
}

/// The way that mail goes.
pub(crate) fn transport(settings: &Settings) -> Result<Transport, SettingError> {
    let transport = match &settings.smtp_url {
        Some(url) => Transport::smtp_within(url, talk_limit(settings.mail_lease))
            .map_err(|error| SettingError::new(SMTP_URL, error))?,
        None => Transport::files(mail_folder(settings)),
    };
    match &settings.mail_return_path {
        Some(address) => transport
            .returning_to(address)
            .map_err(|error| SettingError::new(MAIL_RETURN_PATH, error)),
        None => Ok(transport),
    }
}

/// Where mail goes without a relay.
pub(crate) fn mail_folder(settings: &Settings) -> PathBuf {
    settings.mail_dir.clone().unwrap_or_else(|| PathBuf::from(MAIL))
}

/// How long a talk with the relay may take: well within the lease, so that no other worker takes a
/// mail up while it is being sent.
pub(crate) fn talk_limit(lease: SignedDuration) -> Duration {
    lease.unsigned_abs().div_f32(2.0).min(TALK_LIMIT)
}

/// A runtime for whatever waits.
pub(crate) fn runtime() -> std::io::Result<tokio::runtime::Runtime> {
    tokio::runtime::Builder::new_multi_thread().enable_all().build()
}
