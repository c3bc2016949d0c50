//! The one secret, and the keys derived from it, one for each purpose (HKDF, RFC 5869).

use std::{
    fs::{self, OpenOptions},
    io::{self, Write},
    os::unix::fs::OpenOptionsExt,
    path::{Path, PathBuf},
};

use anyhow::{anyhow, ensure};
use api::SigningKey;
use aws_lc_rs::hkdf::{HKDF_SHA256, KeyType, Salt};
use store::DatabaseUrl;

use crate::settings::{DATABASE_URL, SECRET, SECRET_FILE, Secret, SettingError};

/// A secret shorter than this can be guessed.
const SHORTEST: usize = 32;

/// The key that access tokens are signed with.
pub(crate) fn token_key(secret: &Secret, database: &DatabaseUrl) -> anyhow::Result<SigningKey> {
    let secret = find(secret, database)?;
    ensure!(
        secret.len() >= SHORTEST,
        SettingError::new(SECRET, format!("must have at least {SHORTEST} bytes"))
    );
    let id: [u8; 8] = derive(&secret, b"tautline access token key id v1")?;
    Ok(SigningKey { id: hexadecimal(&id), secret: derive(&secret, b"tautline access token v1")? })
}

fn derive<const N: usize>(secret: &[u8], purpose: &[u8]) -> anyhow::Result<[u8; N]> {
    struct Length(usize);
    impl KeyType for Length {
        fn len(&self) -> usize {
            self.0
        }
    }
    let mut key = [0; N];
    Salt::new(HKDF_SHA256, &[])
        .extract(secret)
        .expand(&[purpose], Length(N))
        .and_then(|okm| okm.fill(&mut key))
        .map_err(|_unspecified| anyhow!("a key could not be derived"))?;
    Ok(key)
}

/// The secret as it was set. Beside a SQLite file one is made and kept; a server on PostgreSQL
/// must be given one, because its processes have to share it.
fn find(secret: &Secret, database: &DatabaseUrl) -> anyhow::Result<Vec<u8>> {
    match (secret, database) {
        (Secret::Given(secret), _) => Ok(secret.clone()),
        (Secret::InFile(path), _) => {
            let text = fs::read(path).map_err(|error| {
                SettingError::new(SECRET_FILE, format!("{}: {error}", path.display()))
            })?;
            Ok(text.trim_ascii().to_vec())
        }
        (Secret::NotSet, DatabaseUrl::Sqlite(path)) => {
            let path = PathBuf::from(format!("{path}.secret"));
            kept(&path).map_err(|error| {
                let problem = format!("a secret cannot be kept at {}: {error}", path.display());
                SettingError::new(DATABASE_URL, problem).into()
            })
        }
        (Secret::NotSet, DatabaseUrl::Postgres(_)) => {
            Err(SettingError::new(SECRET, "must be set where the database is PostgreSQL").into())
        }
    }
}

/// The secret kept in a file, made first if it is not there. Of several processes that start at
/// once one makes it, and all of them read it whole: it gets its name only when it is written.
fn kept(path: &Path) -> io::Result<Vec<u8>> {
    if !path.exists() {
        let draft = path.with_extension(format!("secret-{}", std::process::id()));
        let mut file = OpenOptions::new().write(true).create_new(true).mode(0o600).open(&draft)?;
        file.write_all(random_text()?.as_bytes())?;
        file.sync_all()?;
        let named = fs::hard_link(&draft, path);
        fs::remove_file(&draft)?;
        match named {
            Err(error) if error.kind() != io::ErrorKind::AlreadyExists => return Err(error),
            _ => {}
        }
    }
    Ok(fs::read(path)?.trim_ascii().to_vec())
}

/// 256 bits of chance, in hexadecimal.
pub(crate) fn random_text() -> io::Result<String> {
    let mut bytes = [0_u8; 32];
    getrandom::fill(&mut bytes).map_err(io::Error::other)?;
    Ok(hexadecimal(&bytes))
}

fn hexadecimal(bytes: &[u8]) -> String {
    bytes.iter().fold(String::new(), |text, byte| format!("{text}{byte:02x}"))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sqlite(path: &Path) -> DatabaseUrl {
        DatabaseUrl::Sqlite(path.display().to_string())
    }

    #[test]
    fn the_same_secret_gives_the_same_key_and_another_another() {
        let key = |text: &str| {
            token_key(&Secret::Given(text.into()), &DatabaseUrl::Sqlite(String::new())).unwrap()
        };
        let (a, again, b) = (key(&"a".repeat(32)), key(&"a".repeat(32)), key(&"b".repeat(32)));
        assert_eq!((&a.id, a.secret), (&again.id, again.secret));
        assert_ne!((&a.id, a.secret), (&b.id, b.secret));
    }

    #[test]
    fn a_short_secret_and_none_on_a_server_are_refused() {
        let short = token_key(&Secret::Given(vec![b'x'; 31]), &DatabaseUrl::Sqlite(String::new()));
        assert_eq!(
            short.err().unwrap().to_string(),
            "TAUTLINE_SECRET: must have at least 32 bytes"
        );
        let none = token_key(&Secret::NotSet, &DatabaseUrl::Postgres("postgres://db/club".into()));
        assert!(none.err().unwrap().to_string().starts_with("TAUTLINE_SECRET: must be set"));
    }

    #[test]
    fn a_secret_is_made_once_and_only_its_owner_reads_it() {
        use std::os::unix::fs::PermissionsExt;
        let folder = std::env::temp_dir().join(format!("tautline-secret-{}", std::process::id()));
        fs::create_dir_all(&folder).unwrap();
        let url = sqlite(&folder.join("club.db"));
        let first = token_key(&Secret::NotSet, &url).unwrap();
        let second = token_key(&Secret::NotSet, &url).unwrap();
        assert_eq!(first.secret, second.secret);
        let mode = fs::metadata(folder.join("club.db.secret")).unwrap().permissions().mode();
        assert_eq!(mode & 0o777, 0o600);
        fs::remove_dir_all(folder).unwrap();
    }
}
