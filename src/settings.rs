//! Settings: a default, overridden by the environment, overridden by a flag. The only file that
//! reads the environment.

use std::{fmt, net::SocketAddr, path::PathBuf};

use domain::members::EmailAddress;
use jiff::SignedDuration;
use store::DatabaseUrl;

/// Flags that set what the environment could set too.
#[derive(clap::Args, Default, Clone)]
pub(crate) struct Flags {
    /// Where the records are: `sqlite://PATH` or `postgres://…`.
    #[arg(long, value_name = "URL")]
    database_url: Option<String>,
    /// The address and port to serve on.
    #[arg(long, value_name = "ADDRESS:PORT")]
    listen: Option<String>,
    /// Where the program is to be found from outside; the only source of links.
    #[arg(long, value_name = "URL")]
    base_url: Option<String>,
    /// The relay for mail: `smtp://…`, `smtp+starttls://…` or `smtps://…`; without one, mail goes
    /// to files.
    #[arg(long, value_name = "URL")]
    smtp_url: Option<String>,
    /// The folder for mail where there is no relay.
    #[arg(long, value_name = "FOLDER")]
    mail_dir: Option<String>,
    /// The address that mail comes from.
    #[arg(long, value_name = "ADDRESS")]
    mail_from: Option<String>,
    /// How many seconds a worker may take over a mail before another takes it up.
    #[arg(long, value_name = "SECONDS")]
    mail_lease_s: Option<String>,
    /// How many mails may go to the relay in a minute.
    #[arg(long, value_name = "NUMBER")]
    mail_per_minute: Option<String>,
    /// The address that a relay's notices of failure go to.
    #[arg(long, value_name = "ADDRESS")]
    mail_return_path: Option<String>,
    /// A file with the secret that keys are derived from.
    #[arg(long, value_name = "FILE")]
    secret_file: Option<String>,
}

/// A setting that cannot be used.
#[derive(Debug, PartialEq, Eq, thiserror::Error)]
#[error("{name}: {problem}")]
pub(crate) struct SettingError {
    /// Which one, as it stands in the environment.
    name: String,
    /// Why.
    problem: String,
}

impl SettingError {
    pub(crate) fn new(name: &str, problem: impl fmt::Display) -> Self {
        Self { name: name.to_owned(), problem: problem.to_string() }
    }
}

/// What was set.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Settings {
    /// Where the records are; none means the command's own default.
    pub(crate) database_url: Option<DatabaseUrl>,
    pub(crate) listen: SocketAddr,
    pub(crate) base_url: String,
    pub(crate) smtp_url: Option<String>,
    /// Where mail goes without a relay; none means the command's own default.
    pub(crate) mail_dir: Option<PathBuf>,
    pub(crate) mail_from: EmailAddress,
    pub(crate) mail_lease: SignedDuration,
    pub(crate) mail_per_minute: u32,
    /// Where notices of failure go; none means where mail comes from.
    pub(crate) mail_return_path: Option<EmailAddress>,
    /// What shows that a stranger may read the figures of operation.
    pub(crate) metrics_token: Option<MetricsToken>,
    pub(crate) secret: Secret,
    /// The one before it, while what was made with it still counts.
    pub(crate) secret_previous: Option<Previous>,
}

/// What shows that a stranger may read the figures of operation. Never shown.
#[derive(Clone, PartialEq, Eq)]
pub(crate) struct MetricsToken(pub(crate) String);

impl fmt::Debug for MetricsToken {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("given")
    }
}

/// The secret before the present one. Never shown.
#[derive(Clone, PartialEq, Eq)]
pub(crate) struct Previous(pub(crate) Vec<u8>);

impl fmt::Debug for Previous {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("given")
    }
}

/// Where the secret comes from. Never shown.
#[derive(Clone, PartialEq, Eq)]
pub(crate) enum Secret {
    Given(Vec<u8>),
    InFile(PathBuf),
    NotSet,
}

impl fmt::Debug for Secret {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Given(_) => "given",
            Self::InFile(_) => "in a file",
            Self::NotSet => "not set",
        })
    }
}

pub(crate) const DATABASE_URL: &str = "TAUTLINE_DATABASE_URL";
pub(crate) const LISTEN: &str = "TAUTLINE_LISTEN";
pub(crate) const SMTP_URL: &str = "TAUTLINE_SMTP_URL";
pub(crate) const SECRET: &str = "TAUTLINE_SECRET";
pub(crate) const SECRET_FILE: &str = "TAUTLINE_SECRET_FILE";
pub(crate) const SECRET_PREVIOUS: &str = "TAUTLINE_SECRET_PREVIOUS";
const BASE_URL: &str = "TAUTLINE_BASE_URL";
pub(crate) const MAIL_DIR: &str = "TAUTLINE_MAIL_DIR";
pub(crate) const MAIL_FROM: &str = "TAUTLINE_MAIL_FROM";
const MAIL_LEASE_S: &str = "TAUTLINE_MAIL_LEASE_S";
const MAIL_PER_MINUTE: &str = "TAUTLINE_MAIL_PER_MINUTE";
pub(crate) const MAIL_RETURN_PATH: &str = "TAUTLINE_MAIL_RETURN_PATH";
const METRICS_TOKEN: &str = "TAUTLINE_METRICS_TOKEN";

const KNOWN: [&str; 13] = [
    DATABASE_URL,
    LISTEN,
    BASE_URL,
    SMTP_URL,
    MAIL_DIR,
    MAIL_FROM,
    MAIL_LEASE_S,
    MAIL_PER_MINUTE,
    MAIL_RETURN_PATH,
    METRICS_TOKEN,
    SECRET,
    SECRET_FILE,
    SECRET_PREVIOUS,
];

/// Every variable of the environment that is meant for us. Those for our tests are not settings.
#[expect(clippy::disallowed_methods, reason = "the one place that reads the environment")]
pub(crate) fn environment() -> Vec<(String, String)> {
    std::env::vars_os()
        .filter_map(|(name, value)| {
            let name = name.into_string().ok()?;
            let ours = name.starts_with("TAUTLINE_") && !name.starts_with("TAUTLINE_TEST_");
            // What is not text cannot be a setting; what is left of it will be refused by name.
            ours.then(|| (name, value.to_string_lossy().into_owned()))
        })
        .collect()
}

impl Settings {
    /// Settles every setting. An empty variable counts as not set.
    pub(crate) fn read(
        flags: &Flags,
        environment: &[(String, String)],
    ) -> Result<Self, SettingError> {
        if let Some((name, _)) =
            environment.iter().find(|(name, _)| !KNOWN.contains(&name.as_str()))
        {
            let problem = format!("no such setting; there are {}", KNOWN.join(", "));
            return Err(SettingError::new(name, problem));
        }
        let of = |name: &str, flag: &Option<String>| {
            let set =
                || environment.iter().find(|(known, _)| known == name).map(|(_, v)| v.clone());
            flag.clone().or_else(set).filter(|value| !value.is_empty())
        };
        let listen = of(LISTEN, &flags.listen).unwrap_or_else(|| "127.0.0.1:8484".to_owned());
        let listen: SocketAddr = listen.parse().map_err(|_bad| {
            SettingError::new(LISTEN, "must be an address and port, such as 127.0.0.1:8484")
        })?;
        let smtp_url = of(SMTP_URL, &flags.smtp_url);
        let mail_from = of(MAIL_FROM, &flags.mail_from);
        if smtp_url.is_some() && mail_from.is_none() {
            let problem = "must be set where TAUTLINE_SMTP_URL is: mail comes from this address";
            return Err(SettingError::new(MAIL_FROM, problem));
        }
        let mail_from = mail_from.unwrap_or_else(|| "tautline@no-relay.invalid".to_owned());
        let lease = of(MAIL_LEASE_S, &flags.mail_lease_s);
        let pace = of(MAIL_PER_MINUTE, &flags.mail_per_minute);
        let returning = of(MAIL_RETURN_PATH, &flags.mail_return_path);
        Ok(Self {
            database_url: of(DATABASE_URL, &flags.database_url)
                .map(|url| url.parse().map_err(|error| SettingError::new(DATABASE_URL, error)))
                .transpose()?,
            base_url: base_url(of(BASE_URL, &flags.base_url), listen)?,
            listen,
            smtp_url,
            mail_dir: of(MAIL_DIR, &flags.mail_dir).map(PathBuf::from),
            mail_from: address(MAIL_FROM, &mail_from)?,
            mail_lease: mail_lease(lease.as_deref())?,
            mail_per_minute: mail_per_minute(pace.as_deref())?,
            mail_return_path: returning.map(|text| address(MAIL_RETURN_PATH, &text)).transpose()?,
            metrics_token: metrics_token(of(METRICS_TOKEN, &None))?,
            secret: secret(of(SECRET, &None), of(SECRET_FILE, &flags.secret_file))?,
            secret_previous: of(SECRET_PREVIOUS, &None).map(|secret| Previous(secret.into_bytes())),
        })
    }
}

fn address(name: &str, text: &str) -> Result<EmailAddress, SettingError> {
    EmailAddress::parse(text).map_err(|error| SettingError::new(name, error))
}

fn mail_lease(set: Option<&str>) -> Result<SignedDuration, SettingError> {
    match set.unwrap_or("120").parse() {
        Ok(seconds @ 1..=3_600) => Ok(SignedDuration::from_secs(seconds)),
        _ => Err(SettingError::new(MAIL_LEASE_S, "must be 1 to 3600 seconds")),
    }
}

fn mail_per_minute(set: Option<&str>) -> Result<u32, SettingError> {
    match set.unwrap_or("60").parse() {
        Ok(number @ 1..=10_000) => Ok(number),
        _ => Err(SettingError::new(MAIL_PER_MINUTE, "must be a number from 1 to 10000")),
    }
}

/// A token that can stand in a header and cannot be guessed (RFC 6750, section 2.1, has the letters).
fn metrics_token(set: Option<String>) -> Result<Option<MetricsToken>, SettingError> {
    let is_letter = |b: u8| b.is_ascii_alphanumeric() || b"-._~+/=".contains(&b);
    match set {
        Some(token) if token.len() < 16 || !token.bytes().all(is_letter) => {
            let problem = "must be 16 or more of the letters A-Z a-z 0-9 - . _ ~ + / =";
            Err(SettingError::new(METRICS_TOKEN, problem))
        }
        token => Ok(token.map(MetricsToken)),
    }
}

fn base_url(set: Option<String>, listen: SocketAddr) -> Result<String, SettingError> {
    let url = set.unwrap_or_else(|| format!("http://{listen}"));
    let host = url.strip_prefix("http://").or_else(|| url.strip_prefix("https://"));
    let named = host.is_some_and(|rest| !rest.trim_start_matches('/').is_empty());
    if named && !url.contains(|c: char| c.is_whitespace() || c.is_control()) {
        Ok(url.trim_end_matches('/').to_owned())
    } else {
        Err(SettingError::new(BASE_URL, "must be http:// or https:// and a host"))
    }
}

fn secret(given: Option<String>, file: Option<String>) -> Result<Secret, SettingError> {
    match (given, file) {
        (Some(_), Some(_)) => {
            Err(SettingError::new(SECRET, "set this or TAUTLINE_SECRET_FILE, not both"))
        }
        (Some(given), None) => Ok(Secret::Given(given.into_bytes())),
        (None, Some(file)) => Ok(Secret::InFile(file.into())),
        (None, None) => Ok(Secret::NotSet),
    }
}

#[cfg(test)]
mod tests;
