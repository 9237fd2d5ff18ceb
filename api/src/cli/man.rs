//! `tarebook man`: the manual, made from the same help that the commands print.

use super::failure::{Exit, Failure};
use super::{CommandLine, Context, examples};
use crate::config::{Holds, SETTINGS, Setting};
use clap::{Args, Command, CommandFactory};
use std::io::Write;
use std::path::PathBuf;

/// Write the manual
///
/// Without --folder the page tarebook(1) goes to standard output. With it one page for each command
/// (section 1) and tarebook.toml(5), the settings, are written into the folders man1 and man5 in it;
/// pages of that name which are there are written over.
#[derive(Debug, Args)]
#[command(after_long_help = examples!(
    "  tarebook man --folder /usr/local/share/man\n  \
       tarebook man > tarebook.1"
))]
pub struct Man {
    /// Folder for the pages of all commands and of the settings file
    #[arg(long, value_name = "DIR")]
    folder: Option<PathBuf>,
}

/// A page of the manual.
struct Page {
    /// Its file below the folder.
    file: String,
    text: Vec<u8>,
}

impl Man {
    pub(super) fn run(self, context: &Context) -> Result<Exit, Failure> {
        let pages = pages()?;
        let Some(folder) = self.folder else {
            let first = pages.first().map_or(&[][..], |page| &page.text);
            std::io::stdout().lock().write_all(first)?;
            return Ok(Exit::Good);
        };
        let failed = |file: &PathBuf, error: std::io::Error| {
            let shown = file.display();
            Failure::failed(format!(
                "expected to write {shown}, came: {error}. Name a folder that you may write."
            ))
        };
        for section in ["man1", "man5"] {
            let below = folder.join(section);
            std::fs::create_dir_all(&below).map_err(|error| failed(&below, error))?;
        }
        for page in &pages {
            let file = folder.join(&page.file);
            std::fs::write(&file, &page.text).map_err(|error| failed(&file, error))?;
        }
        let (count, shown) = (pages.len(), folder.display());
        context
            .terminal
            .say(format!("{count} pages below {shown}."));
        Ok(Exit::Good)
    }
}

/// All pages, that of the program first.
fn pages() -> std::io::Result<Vec<Page>> {
    let mut command = CommandLine::command().disable_help_subcommand(true);
    command.build();
    let mut pages = Vec::new();
    of_command(&command, &mut pages)?;
    pages.push(Page {
        file: "man5/tarebook.toml.5".to_string(),
        text: of_settings().into_bytes(),
    });
    Ok(pages)
}

fn of_command(command: &Command, pages: &mut Vec<Page>) -> std::io::Result<()> {
    let name = command
        .get_display_name()
        .unwrap_or_else(|| command.get_name());
    let mut text = Vec::new();
    clap_mangen::Man::new(command.clone())
        .title(name.to_uppercase())
        .section("1")
        // The version instead of a day: the same program writes the same pages.
        .date(env!("CARGO_PKG_VERSION"))
        .source("tarebook")
        .manual("Manual of tarebook")
        .render(&mut text)?;
    pages.push(Page {
        file: format!("man1/{name}.1"),
        text,
    });
    for sub in command.get_subcommands() {
        of_command(sub, pages)?;
    }
    Ok(())
}

/// The page of the settings file.
fn of_settings() -> String {
    let mut text = String::from(
        ".TH TAREBOOK.TOML 5 \"\" tarebook \"Manual of tarebook\"\n.SH NAME\ntarebook.toml \\- settings of tarebook\n.SH DESCRIPTION\n\
         Flags of a command beat the environment (\\fBTAREBOOK_\\fP and the name in capitals), which \
         beats this file, which beats the defaults. The file is the one that \\fB\\-\\-config\\fP or \
         \\fBTAREBOOK_CONFIG\\fP names, else /etc/tarebook/tarebook.toml. A name that is no setting is \
         refused. Values are texts or, where it is said, true or false.\n.SH SETTINGS\n",
    );
    for setting in SETTINGS {
        let Setting {
            key,
            default,
            means,
            ..
        } = setting;
        let holds = match setting.holds {
            Holds::Text => String::new(),
            Holds::YesNo => " True or false.".to_string(),
            Holds::Secret => format!(" A secret: {key}_file names a file that holds it."),
        };
        let told = format!("{means}{holds} Default: {default}.");
        text.push_str(&format!(".TP\n\\fB{}\\fP\n{}\n", plain(key), plain(&told)));
    }
    text.push_str(".SH SEE ALSO\n\\fBtarebook\\fP(1)\n");
    text
}

/// Text that the typesetter does not read: backslashes are its own, a minus stays one to be copied,
/// and a line may not begin with its commands.
fn plain(text: &str) -> String {
    let text = text.replace('\\', "\\e").replace('-', "\\-");
    match text.starts_with(['.', '\'']) {
        true => format!("\\&{text}"),
        false => text,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn e38_every_command_and_setting_has_its_page() {
        let pages = pages().unwrap();
        let page = |file: &str| {
            let found = pages.iter().find(|page| page.file == file);
            let found = found.unwrap_or_else(|| panic!("{file} is missing"));
            String::from_utf8(found.text.clone()).unwrap()
        };
        assert_eq!(pages[0].file, "man1/tarebook.1");
        assert!(page("man1/tarebook-report.1").contains("appliance\\-year"));
        assert!(page("man1/tarebook-token-issue.1").contains("Exit codes"));
        let settings = page("man5/tarebook.toml.5");
        for setting in SETTINGS {
            assert!(settings.contains(&format!("\n\\fB{}\\fP\n", plain(setting.key))));
        }
        assert_eq!(plain(".a\\b-c"), "\\&.a\\eb\\-c");
    }
}
