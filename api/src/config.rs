//! Every setting, its default and its meaning; read once, at start.
//!
//! A setting comes from a flag, else from the environment (`TAREBOOK_...`), else from a TOML file,
//! else from its default. The table [`SETTINGS`] is the only list of them: the example file in
//! `deploy/` is written from it and compared with it by a test. A name that is not in the table is
//! refused with the nearest one that is, because a setting that is silently ignored is worse than
//! a program that does not start.

mod settings;

pub use settings::{Holds, SETTINGS, Setting, example_file};

use std::collections::BTreeMap;
use std::fmt;
use std::path::{Path, PathBuf};

/// Where settings are looked for when no file is named.
pub const USUAL_FILE: &str = "/etc/tarebook/tarebook.toml";

/// Variables with this beginning belong to the test suite and are no settings.
const OF_TESTS: &str = "TAREBOOK_TEST_";

/// What is wrong with the settings: what was expected, what came, what to do.
#[derive(Debug, PartialEq, Eq)]
pub struct ConfigError(pub String);

impl fmt::Display for ConfigError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// Where the book is kept.
#[derive(Clone, PartialEq, Eq)]
pub enum Place {
    /// A folder with a SQLite database.
    Folder(PathBuf),
    /// A PostgreSQL database.
    Url(String),
}

impl fmt::Debug for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.shown())
    }
}

impl Place {
    /// The place in words, without the password that a URL may hold.
    pub fn shown(&self) -> String {
        match self {
            Place::Folder(folder) => folder.display().to_string(),
            Place::Url(url) => without_password(url),
        }
    }
}

/// The environment as settings see it: name to value.
pub type Environment = BTreeMap<String, String>;

/// One layer of settings, by key.
pub type Layer = BTreeMap<&'static str, String>;

/// All settings, flags first.
#[derive(Debug, Default)]
pub struct Config {
    layers: [Layer; 3],
    environment: Environment,
}

impl Config {
    /// Puts the layers together. `file` was named by a flag; else `TAREBOOK_CONFIG` may name one,
    /// else the usual file is read where it exists.
    pub fn read(
        flags: Layer,
        environment: Environment,
        file: Option<&Path>,
    ) -> Result<Config, ConfigError> {
        let from_environment = read_environment(&environment)?;
        let named = file.map(Path::to_path_buf);
        let named = named.or_else(|| environment.get("TAREBOOK_CONFIG").map(PathBuf::from));
        let from_file = match named {
            Some(path) => read_file(&path)?,
            None if Path::new(USUAL_FILE).exists() => read_file(Path::new(USUAL_FILE))?,
            None => Layer::new(),
        };
        Ok(Config {
            layers: [flags, from_environment, from_file],
            environment,
        })
    }

    /// The value of a setting from the strongest layer that has one.
    pub fn get(&self, key: &str) -> Option<&str> {
        debug_assert!(
            SETTINGS.iter().any(|setting| setting.key == key),
            "no setting {key}"
        );
        self.layers
            .iter()
            .find_map(|layer| layer.get(key))
            .map(String::as_str)
    }

    /// Whether a yes/no setting says yes.
    pub fn says_yes(&self, key: &str) -> bool {
        self.get(key) == Some("true")
    }

    /// Whether colours are unwanted; `NO_COLOR` counts when no setting says otherwise.
    pub fn no_color(&self) -> bool {
        let asked = self
            .environment
            .get("NO_COLOR")
            .is_some_and(|value| !value.is_empty());
        self.get("no_color").map_or(asked, |value| value == "true")
    }

    /// Where the book is. The strongest layer that names a place decides, and it must name one.
    pub fn place(&self) -> Result<Place, ConfigError> {
        for layer in &self.layers {
            match (layer.get("data"), layer.get("database_url")) {
                (Some(_), Some(_)) => {
                    return Err(ConfigError(
                        "expected one of --data and --database-url, came both. Keep the one that \
                         names the book you mean."
                            .into(),
                    ));
                }
                (Some(folder), None) => return folder_of(folder),
                (None, Some(url)) => return url_of(url),
                (None, None) => {}
            }
        }
        Err(ConfigError(
            "expected to be told where the book is, came neither --data nor --database-url. Give \
             --data DIR for a book in a folder or --database-url URL for one in PostgreSQL."
                .into(),
        ))
    }

    /// The folder of the signing keys for a book at `place`.
    pub fn keys(&self, place: &Place) -> Result<PathBuf, ConfigError> {
        if let Some(folder) = self.get("keys") {
            return Ok(PathBuf::from(folder));
        }
        if let Place::Folder(folder) = place {
            return Ok(folder.join("keys"));
        }
        let of = |name: &str| self.environment.get(name).filter(|value| !value.is_empty());
        let usual = [
            of("STATE_DIRECTORY").map(|state| Path::new(state).join("keys")),
            of("XDG_DATA_HOME").map(|data| Path::new(data).join("tarebook/keys")),
            of("HOME").map(|home| Path::new(home).join(".local/share/tarebook/keys")),
        ];
        usual.into_iter().flatten().next().ok_or_else(|| {
            ConfigError(
                "expected a folder for the signing keys, came none: neither STATE_DIRECTORY nor \
                 XDG_DATA_HOME nor HOME is set. Give --keys DIR."
                    .into(),
            )
        })
    }
}

fn folder_of(text: &str) -> Result<Place, ConfigError> {
    if text.contains("://") {
        return Err(ConfigError(format!(
            "expected a folder after --data, came '{}'. A PostgreSQL database is named by \
             --database-url; a SQLite book by its folder alone.",
            without_password(text)
        )));
    }
    if text.is_empty() {
        return Err(ConfigError(
            "expected a folder after --data, came nothing. Name one.".into(),
        ));
    }
    Ok(Place::Folder(PathBuf::from(text)))
}

fn url_of(text: &str) -> Result<Place, ConfigError> {
    match text.split_once("://").map(|(scheme, _)| scheme) {
        Some("postgres" | "postgresql") => Ok(Place::Url(text.to_string())),
        Some("sqlite" | "file") => Err(ConfigError(
            "expected postgres://USER@HOST/DATABASE after --database-url, came a file. A SQLite \
             book is named by its folder: --data DIR."
                .into(),
        )),
        Some(scheme) => Err(ConfigError(format!(
            "expected postgres:// or postgresql:// after --database-url, came '{scheme}://'. \
             Write postgres://USER@HOST/DATABASE."
        ))),
        // Guessing a scheme would let a typing mistake create an empty book beside the real one.
        None => Err(ConfigError(format!(
            "expected postgres://USER@HOST/DATABASE after --database-url, came '{}' without a \
             scheme. Write the URL out, or --data {0} if a folder is meant.",
            without_password(text)
        ))),
    }
}

/// A URL with stars where its password stands.
fn without_password(url: &str) -> String {
    let Some((scheme, rest)) = url.split_once("://") else {
        return url.to_string();
    };
    let end = rest.find('/').unwrap_or(rest.len());
    let Some(at) = rest[..end].rfind('@') else {
        return url.to_string();
    };
    match rest[..at].split_once(':') {
        Some((user, _)) => format!("{scheme}://{user}:***{}", &rest[at..]),
        None => url.to_string(),
    }
}

fn read_environment(environment: &Environment) -> Result<Layer, ConfigError> {
    let mut given = Vec::new();
    for (name, value) in environment {
        let Some(key) = name.strip_prefix("TAREBOOK_") else {
            continue;
        };
        if name != "TAREBOOK_CONFIG" && !name.starts_with(OF_TESTS) {
            given.push((key.to_lowercase(), name.clone(), value.clone()));
        }
    }
    layer_of(given, "the environment", |key| {
        format!("TAREBOOK_{}", key.to_uppercase())
    })
}

fn read_file(path: &Path) -> Result<Layer, ConfigError> {
    let shown = path.display();
    let text = std::fs::read_to_string(path).map_err(|error| {
        ConfigError(format!(
            "expected to read the settings in {shown}, came: {error}. Name a \
                             readable file with --config."
        ))
    })?;
    let table: toml::Table = text.parse().map_err(|error: toml::de::Error| {
        ConfigError(format!("expected TOML in {shown}, came:\n{error}"))
    })?;
    let mut given = Vec::new();
    for (key, value) in table {
        let value = match value {
            toml::Value::String(text) => text,
            toml::Value::Boolean(yes) => yes.to_string(),
            other => {
                return Err(ConfigError(format!(
                    "{shown}: expected text or true/false for '{key}', came {}. Put the value in \
                     quotes.",
                    other.type_str()
                )));
            }
        };
        given.push((key.clone(), key, value));
    }
    layer_of(given, &shown.to_string(), str::to_string)
}

/// Sorts (key, name as given, value) into a layer, reading `KEY_file` of secrets.
fn layer_of(
    given: Vec<(String, String, String)>,
    place: &str,
    name_of: fn(&str) -> String,
) -> Result<Layer, ConfigError> {
    let mut layer = Layer::new();
    for (key, name, value) in given {
        let secret_of = |s: &&Setting| s.holds == Holds::Secret && key == format!("{}_file", s.key);
        let (setting, value) = if let Some(setting) = SETTINGS.iter().find(|s| s.key == key) {
            (setting, value)
        } else if let Some(setting) = SETTINGS.iter().find(secret_of) {
            (setting, read_secret(&name, &value)?)
        } else {
            return Err(unknown(&name, place, name_of));
        };
        let value = match (setting.holds, value.as_str()) {
            (Holds::YesNo, "1") => "true".to_string(),
            (Holds::YesNo, "0") => "false".to_string(),
            _ => value,
        };
        if setting.holds == Holds::YesNo && value != "true" && value != "false" {
            return Err(ConfigError(format!(
                "{place}: expected true or false for '{name}', came '{value}'."
            )));
        }
        if layer.insert(setting.key, value).is_some() {
            return Err(ConfigError(format!(
                "{place}: expected '{0}' or '{0}_file', came both. Keep one.",
                name_of(setting.key)
            )));
        }
    }
    Ok(layer)
}

fn read_secret(name: &str, path: &str) -> Result<String, ConfigError> {
    let text = std::fs::read_to_string(path).map_err(|error| {
        ConfigError(format!(
            "expected to read the file that {name} names, {path}, came: {error}."
        ))
    })?;
    Ok(text.trim_end_matches(['\r', '\n']).to_string())
}

fn unknown(name: &str, place: &str, name_of: fn(&str) -> String) -> ConfigError {
    let names: Vec<String> = SETTINGS
        .iter()
        .map(|setting| name_of(setting.key))
        .collect();
    let advice = match nearest(name, names.iter().map(String::as_str)) {
        Some(near) => format!("Did you mean '{near}'?"),
        None => format!("There are: {}.", names.join(", ")),
    };
    ConfigError(format!(
        "{place}: expected the name of a setting, came '{name}'. {advice}"
    ))
}

/// The name that is spelt most like `word`, if one is spelt alike at all.
pub fn nearest<'a>(word: &str, names: impl Iterator<Item = &'a str>) -> Option<&'a str> {
    let word = word.to_lowercase();
    let far = |name: &&str| strsim::damerau_levenshtein(&word, &name.to_lowercase());
    names
        .min_by_key(far)
        .filter(|name| far(name) * 2 <= word.len().max(3))
}

#[cfg(test)]
mod tests;
