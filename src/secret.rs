//! The one secret, and the keys derived from it, one for each purpose (HKDF, RFC 5869).

use std::{
    fs::{self, OpenOptions},
    io::{self, Write},
    os::unix::fs::OpenOptionsExt,
    path::{Path, PathBuf},
};

use anyhow::anyhow;
use api::{Keys, SigningKey};
use aws_lc_rs::hkdf::{HKDF_SHA256, KeyType, Salt};
use store::{DatabaseUrl, seals::Seals};

use crate::{
    open,
    settings::{
        DATABASE_URL, Previous, SECRET, SECRET_FILE, SECRET_PREVIOUS, Secret, SettingError,
        Settings,
    },
};

/// A secret shorter than this can be guessed.
const SHORTEST: usize = 32;

/// The keys that the settings come to: those of the secret, and those of the one before it, by which
/// what was made earlier is still known.
pub(crate) fn keys(settings: &Settings) -> anyhow::Result<Keys> {
    let secret = find(&settings.secret, &open::database_url(settings))?;
    long_enough(&secret, SECRET)?;
    let previous = settings.secret_previous.as_ref().map(|Previous(secret)| secret.as_slice());
    if let Some(previous) = previous {
        long_enough(previous, SECRET_PREVIOUS)?;
    }
    Ok(Keys {
        signing: signing_key(&secret)?,
        previous: previous.map(signing_key).transpose()?,
        seals: Seals::new(sealing_key(&secret)?, previous.map(sealing_key).transpose()?),
    })
}

fn long_enough(secret: &[u8], setting: &str) -> Result<(), SettingError> {
    if secret.len() >= SHORTEST {
        return Ok(());
    }
    Err(SettingError::new(setting, format!("must have at least {SHORTEST} bytes")))
}

fn signing_key(secret: &[u8]) -> anyhow::Result<SigningKey> {
    let id: [u8; 8] = derive(secret, b"tautline access token key id v1")?;
    Ok(SigningKey { id: hexadecimal(&id), secret: derive(secret, b"tautline access token v1")? })
}

fn sealing_key(secret: &[u8]) -> anyhow::Result<[u8; 32]> {
    derive(secret, b"tautline seals v1")
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
    use crate::settings::Flags;

    /// The keys of a program with these settings.
    fn keys_of(environment: &[(&str, &str)]) -> anyhow::Result<Keys> {
        let owned: Vec<(String, String)> =
            environment.iter().map(|(k, v)| ((*k).to_owned(), (*v).to_owned())).collect();
        keys(&Settings::read(&Flags::default(), &owned).unwrap())
    }

    const A: &str = "aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa";
    const B: &str = "bbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbb";

    #[test]
    fn the_same_secret_gives_the_same_key_and_another_another() {
        let key = |secret| keys_of(&[(SECRET, secret)]).unwrap().signing;
        let (a, again, b) = (key(A), key(A), key(B));
        assert_eq!((&a.id, a.secret), (&again.id, again.secret));
        assert_ne!((&a.id, a.secret), (&b.id, b.secret));
    }

    #[test]
    fn what_the_secret_before_made_is_taken_and_no_more_is_made_with_it() {
        let before = keys_of(&[(SECRET, A)]).unwrap();
        let after = keys_of(&[(SECRET, B), (SECRET_PREVIOUS, A)]).unwrap();
        let previous = after.previous.unwrap();
        assert_eq!((&previous.id, previous.secret), (&before.signing.id, before.signing.secret));
        assert_ne!(after.signing.id, previous.id);
        let sealed = before.seals.seal("reset", b"x");
        assert_eq!(after.seals.open("reset", &sealed).as_deref(), Some(&b"x"[..]));
        assert_eq!(before.seals.open("reset", &after.seals.seal("reset", b"x")), None);
        // No purpose has another's key.
        assert_ne!(sealing_key(A.as_bytes()).unwrap(), before.signing.secret);
    }

    #[test]
    fn a_short_secret_and_none_on_a_server_are_refused() {
        let refused = |environment: &[(&str, &str)], words: &str| {
            let error = keys_of(environment).err().unwrap().to_string();
            assert!(error.starts_with(words), "{error}");
        };
        refused(&[(SECRET, &A[1..])], "TAUTLINE_SECRET: must have at least 32 bytes");
        refused(
            &[(SECRET, A), (SECRET_PREVIOUS, &A[1..])],
            "TAUTLINE_SECRET_PREVIOUS: must have at least 32 bytes",
        );
        refused(&[(DATABASE_URL, "postgres://db/club")], "TAUTLINE_SECRET: must be set");
    }

    #[test]
    fn a_secret_is_made_once_and_only_its_owner_reads_it() {
        use std::os::unix::fs::PermissionsExt;
        let folder = std::env::temp_dir().join(format!("tautline-secret-{}", std::process::id()));
        fs::create_dir_all(&folder).unwrap();
        let url = format!("sqlite://{}", folder.join("club.db").display());
        let first = keys_of(&[(DATABASE_URL, &url)]).unwrap();
        let second = keys_of(&[(DATABASE_URL, &url)]).unwrap();
        assert_eq!(first.signing.secret, second.signing.secret);
        let mode = fs::metadata(folder.join("club.db.secret")).unwrap().permissions().mode();
        assert_eq!(mode & 0o777, 0o600);
        fs::remove_dir_all(folder).unwrap();
    }
}
