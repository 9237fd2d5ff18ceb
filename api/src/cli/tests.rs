//! The command line reads as its help says.

use super::*;
use clap::Command as ClapCommand;

fn each(command: &ClapCommand, path: &str, see: &mut dyn FnMut(&str, &ClapCommand)) {
    see(path, command);
    for sub in command
        .get_subcommands()
        .filter(|sub| sub.get_name() != "help")
    {
        each(sub, &format!("{path} {}", sub.get_name()), see);
    }
}

fn everything(see: &mut dyn FnMut(&str, &ClapCommand)) {
    let mut command = CommandLine::command();
    command.build();
    each(&command, "tarebook", see);
}

/// Words of a line as a shell would give them: quotes hold a word together.
fn words(line: &str) -> Vec<String> {
    let mut words = vec![String::new()];
    let mut quoted = false;
    for character in line.chars() {
        match character {
            '"' => quoted = !quoted,
            ' ' if !quoted => words.push(String::new()),
            _ => words.last_mut().unwrap().push(character),
        }
    }
    words.retain(|word| !word.is_empty());
    words
}

#[test]
fn the_tree_of_commands_is_sound() {
    CommandLine::command().debug_assert();
}

#[test]
fn every_command_has_help_two_examples_and_exit_codes() {
    everything(&mut |path, command| {
        assert!(
            command.get_about().is_some(),
            "{path} says nothing about itself"
        );
        let end = command
            .get_after_long_help()
            .map(ToString::to_string)
            .unwrap_or_default();
        let examples = end
            .lines()
            .filter(|line| line.starts_with("  "))
            .filter(|line| line.contains("tarebook "));
        assert!(
            examples.count() >= 2,
            "{path} has fewer than two examples:\n{end}"
        );
        assert!(
            end.contains("\n  3  a verification found a break"),
            "{path}:\n{end}"
        );
        for argument in command.get_arguments() {
            assert!(
                argument.get_help().is_some(),
                "{path}: {} has no help",
                argument.get_id()
            );
        }
    });
}

#[test]
fn every_example_in_the_help_can_be_typed() {
    let mut tried = 0;
    everything(&mut |path, command| {
        let end = command.get_after_long_help().unwrap().to_string();
        for line in end
            .lines()
            .filter(|line| line.starts_with("  ") && line.contains("tarebook "))
        {
            let line = &line[line.find("tarebook ").unwrap()..];
            let line = line.split(" >").next().unwrap();
            let read = CommandLine::try_parse_from(words(line));
            assert!(read.is_ok(), "{path}: {line}\n{}", read.unwrap_err());
            tried += 1;
        }
    });
    assert!(tried >= 2 * 14, "only {tried} examples were found");
}

fn parsed(line: &str) -> Result<CommandLine, clap::Error> {
    parse(words(line).into_iter().map(Into::into).collect())
}

#[test]
fn wrong_command_lines_are_usage_errors() {
    for line in [
        "tarebook",
        "tarebook imports",
        "tarebook report monthly --year 2025 --organisation x --data d",
        "tarebook report additions --organisation x --data d",
        "tarebook report additions --year 0 --organisation x --data d",
        "tarebook report additions --year 2025 --unit stone --organisation x --data d",
        "tarebook report additions --year 2025 --as-of yesterday --organisation x --data d",
        "tarebook import tables x.csv --organisation x --data d",
        "tarebook export --organisation x --data d",
        "tarebook verify --bundle b --data d",
        "tarebook migrate --data d --database-url postgres://x/y",
        "tarebook rules diff",
    ] {
        let error = parsed(line).unwrap_err();
        assert!(error.use_stderr(), "{line}");
        assert_eq!(error.exit_code(), Exit::Usage as i32, "{line}");
    }
}

#[test]
fn settings_that_are_wrong_are_usage_errors_too() {
    for (line, expected) in [
        ("tarebook init --data d", "--organisation NAME"),
        (
            "tarebook mass 1 --unit kg --config no-such-file",
            "no-such-file",
        ),
    ] {
        let failure = run(parsed(line).unwrap(), Environment::new()).unwrap_err();
        assert_eq!(failure.exit, Exit::Usage, "{line}");
        assert!(failure.text.contains(expected), "{line}: {}", failure.text);
    }
}

#[test]
fn help_and_version_are_good_endings() {
    for line in [
        "tarebook --help",
        "tarebook --version",
        "tarebook report --help",
    ] {
        let error = parsed(line).unwrap_err();
        assert!(
            !error.use_stderr() && error.exit_code() == Exit::Good as i32,
            "{line}"
        );
    }
}

/// Lines of the shell blocks of a text that call the program.
fn commands(text: &str) -> Vec<String> {
    let mut lines = Vec::new();
    let mut inside = false;
    let joined = text.replace("\\\n", " ");
    for line in joined.lines() {
        match line.strip_prefix("```") {
            Some(word) => inside = !inside && word == "sh",
            None if inside && line.starts_with("tarebook ") => {
                lines.push(
                    line.split(['#', '>', '|', ';'])
                        .next()
                        .unwrap_or_default()
                        .to_string(),
                );
            }
            None => {}
        }
    }
    lines
}

#[test]
fn e38_every_command_in_the_documents_can_be_typed() {
    let mut tried = 0;
    for text in [
        include_str!("../../../README.md"),
        include_str!("../../../deploy/README.md"),
        include_str!("../../../reports/rules/README.md"),
    ] {
        for line in commands(text) {
            let read = parsed(line.trim());
            assert!(read.is_ok(), "{line}\n{}", read.unwrap_err());
            tried += 1;
        }
    }
    assert!(tried >= 15, "only {tried} commands were found");
    assert_eq!(
        commands("```sh\ntarebook sing # loudly\n```\ntarebook no\n"),
        ["tarebook sing "]
    );
    assert!(parsed("tarebook sing").is_err());
}

#[test]
fn e38_exit_codes_and_settings_of_the_documents_are_those_of_the_program() {
    let readme = include_str!("../../../README.md");
    let help = CommandLine::command()
        .get_after_long_help()
        .unwrap()
        .to_string();
    let told = help.lines().filter_map(|line| {
        let (code, _) = line.strip_prefix("  ")?.split_once("  ")?;
        code.parse::<u8>().ok()
    });
    let told: Vec<u8> = told.collect();
    let listed = readme.lines().filter_map(|line| {
        let code = line.strip_prefix("| ")?.split(' ').next()?;
        code.parse::<u8>().ok()
    });
    assert_eq!(listed.collect::<Vec<u8>>(), told);
    assert_eq!(told, [0, 1, 2, 3, 4]);
    let known = |name: &str| {
        let key = name.to_lowercase();
        let of = |setting: &crate::config::Setting| {
            setting.key == key || format!("{}_file", setting.key) == key
        };
        key == "config" || crate::config::SETTINGS.iter().any(of)
    };
    let deploy = include_str!("../../../deploy/README.md");
    let mut found = 0;
    for text in [readme, deploy] {
        for part in text.split("TAREBOOK_").skip(1) {
            let name = |c: char| c.is_ascii_uppercase() || c == '_';
            let name: String = part.chars().take_while(|c| name(*c)).collect();
            assert!(
                name.is_empty() || known(&name),
                "TAREBOOK_{name} is no setting"
            );
            found += usize::from(!name.is_empty());
        }
    }
    assert!(found >= 5, "only {found} settings are named");
}
