//! Settings: which layer wins, and what is refused.

use super::*;

fn environment(pairs: &[(&str, &str)]) -> Environment {
    pairs
        .iter()
        .map(|(name, value)| (name.to_string(), value.to_string()))
        .collect()
}

fn file(text: &str) -> tempfile::NamedTempFile {
    let file = tempfile::NamedTempFile::new().unwrap();
    std::fs::write(file.path(), text).unwrap();
    file
}

fn read(
    flags: &[(&'static str, &str)],
    variables: &[(&str, &str)],
    text: &str,
) -> Result<Config, ConfigError> {
    let flags = flags
        .iter()
        .map(|(key, value)| (*key, value.to_string()))
        .collect();
    Config::read(flags, environment(variables), Some(file(text).path()))
}

#[test]
fn a_flag_beats_the_environment_beats_the_file() {
    let text = "organisation = \"from the file\"\nkeys = \"from the file\"\nquiet = true\n";
    let variables = [
        ("TAREBOOK_ORGANISATION", "environment"),
        ("TAREBOOK_KEYS", "environment"),
    ];
    let config = read(&[("organisation", "flag")], &variables, text).unwrap();
    assert_eq!(config.get("organisation"), Some("flag"));
    assert_eq!(config.get("keys"), Some("environment"));
    assert!(config.says_yes("quiet"));
    assert_eq!(config.get("data"), None);
}

#[test]
fn a_place_named_by_a_stronger_layer_hides_the_other_kind_in_a_weaker_one() {
    let variables = [("TAREBOOK_DATABASE_URL", "postgres://localhost/other")];
    let config = read(&[("data", "books")], &variables, "").unwrap();
    assert_eq!(config.place(), Ok(Place::Folder("books".into())));
}

/// E40: an unknown key fails with a hint.
#[test]
fn an_unknown_name_is_refused_with_the_nearest_known_one() {
    let error = read(&[], &[], "databse_url = \"postgres://x/y\"").unwrap_err();
    assert!(error.0.contains("'databse_url'"), "{error}");
    assert!(error.0.contains("Did you mean 'database_url'?"), "{error}");
    let error = read(&[], &[("TAREBOOK_ORGANIZATION", "x")], "").unwrap_err();
    assert!(
        error.0.contains("Did you mean 'TAREBOOK_ORGANISATION'?"),
        "{error}"
    );
    let error = read(&[], &[], "zzzzzz = \"1\"").unwrap_err();
    assert!(error.0.contains("There are: data, database_url"), "{error}");
}

#[test]
fn values_of_the_wrong_kind_and_broken_files_are_refused() {
    for (text, words) in [
        ("quiet = \"perhaps\"", "expected true or false"),
        (
            "data = 7",
            "expected text or true/false for 'data', came integer",
        ),
        ("data = ", "expected TOML"),
    ] {
        let error = read(&[], &[], text).unwrap_err();
        assert!(error.0.contains(words), "{text}: {error}");
    }
    let missing = Config::read(
        Layer::new(),
        Environment::new(),
        Some(Path::new("no-such-file")),
    );
    assert!(missing.unwrap_err().0.contains("no-such-file"));
}

#[test]
fn a_secret_may_stand_in_a_file_of_its_own() {
    let secret = file("postgres://tarebook:hush@db/tarebook\n");
    let path = secret.path().to_str().unwrap();
    let config = read(&[], &[("TAREBOOK_DATABASE_URL_FILE", path)], "").unwrap();
    let place = config.place().unwrap();
    assert_eq!(
        place,
        Place::Url("postgres://tarebook:hush@db/tarebook".into())
    );
    assert_eq!(format!("{place:?}"), "postgres://tarebook:***@db/tarebook");
    let both = [
        ("TAREBOOK_DATABASE_URL_FILE", path),
        ("TAREBOOK_DATABASE_URL", "postgres://x/y"),
    ];
    assert!(read(&[], &both, "").unwrap_err().0.contains("came both"));
}

#[test]
fn a_wrong_place_is_refused_with_a_remedy() {
    for (flags, words) in [
        (
            &[("data", "a"), ("database_url", "postgres://x/y")][..],
            "came both",
        ),
        (&[][..], "Give --data DIR"),
        (
            &[("database_url", "books/main.db")][..],
            "--data books/main.db",
        ),
        (&[("database_url", "sqlite://books")][..], "--data DIR"),
        (&[("database_url", "mysql://x/y")][..], "came 'mysql://'"),
        (&[("data", "postgres://me:hush@x/y")][..], "--database-url"),
    ] {
        let error = read(flags, &[], "").unwrap().place().unwrap_err();
        assert!(error.0.contains(words), "{flags:?}: {error}");
        assert!(!error.0.contains("hush"), "{error}");
    }
}

#[test]
fn keys_lie_beside_the_data_or_where_the_system_keeps_state() {
    let folder = Place::Folder("/books".into());
    let url = Place::Url("postgres://x/y".into());
    let keys = |variables: &[(&str, &str)], place| {
        read(&[], variables, "")
            .unwrap()
            .keys(place)
            .map(|keys| keys.display().to_string())
    };
    assert_eq!(keys(&[("HOME", "/h")], &folder), Ok("/books/keys".into()));
    let all = [
        ("STATE_DIRECTORY", "/s"),
        ("XDG_DATA_HOME", "/x"),
        ("HOME", "/h"),
    ];
    assert_eq!(keys(&all, &url), Ok("/s/keys".into()));
    assert_eq!(keys(&all[1..], &url), Ok("/x/tarebook/keys".into()));
    assert_eq!(
        keys(&all[2..], &url),
        Ok("/h/.local/share/tarebook/keys".into())
    );
    assert!(keys(&[], &url).unwrap_err().0.contains("--keys"));
    assert_eq!(keys(&[("TAREBOOK_KEYS", "/k")], &folder), Ok("/k".into()));
}

#[test]
fn no_color_follows_its_variable_unless_a_setting_says_otherwise() {
    assert!(read(&[], &[("NO_COLOR", "1")], "").unwrap().no_color());
    assert!(!read(&[], &[("NO_COLOR", "")], "").unwrap().no_color());
    assert!(
        !read(&[], &[("NO_COLOR", "1")], "no_color = false")
            .unwrap()
            .no_color()
    );
}

/// The example file is what the table says; `TAREBOOK_TEST_WRITE=1` writes it anew.
#[test]
fn the_example_file_is_in_step_with_the_table() {
    let path = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/../deploy/tarebook.toml.example"
    );
    if std::env::var_os("TAREBOOK_TEST_WRITE").is_some() {
        std::fs::write(path, example_file()).unwrap();
    }
    assert_eq!(std::fs::read_to_string(path).unwrap(), example_file());
    let uncommented: String = example_file()
        .lines()
        .filter_map(|line| line.strip_prefix('#').filter(|line| !line.starts_with(' ')))
        .filter(|line| !line.contains("_file"))
        .map(|line| format!("{line}\n"))
        .collect();
    assert!(read(&[], &[], &uncommented).is_ok(), "{uncommented}");
}
