//! The table of settings, and the example file that is written from it.

/// One setting of the program.
#[derive(Debug)]
pub struct Setting {
    /// Its name in the file; the environment variable is `TAREBOOK_` and the name in capitals.
    pub key: &'static str,
    /// What it may hold.
    pub holds: Holds,
    /// Its default, in words where it depends on others.
    pub default: &'static str,
    /// A value to show in the example file.
    pub example: &'static str,
    /// What it does.
    pub means: &'static str,
}

/// What a setting may hold.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Holds {
    /// Any text.
    Text,
    /// `true` or `false`.
    YesNo,
    /// Text that must not be shown; it may also be read from a file named by `KEY_file`.
    Secret,
}

/// All settings there are.
pub const SETTINGS: &[Setting] = &[
    Setting {
        key: "data",
        holds: Holds::Text,
        default: "none; one of data and database_url must be given",
        example: "/var/lib/tarebook",
        means: "Folder of a SQLite book, as --data. It holds the database and, unless keys says \
                otherwise, the signing keys.",
    },
    Setting {
        key: "database_url",
        holds: Holds::Secret,
        default: "none",
        example: "postgres://tarebook@localhost/tarebook",
        means: "PostgreSQL database, as --database-url. It may hold a password: prefer \
                database_url_file, which names a file that holds it.",
    },
    Setting {
        key: "keys",
        holds: Holds::Text,
        default: "DATA/keys; with database_url $STATE_DIRECTORY/keys, else \
                  $XDG_DATA_HOME/tarebook/keys, else $HOME/.local/share/tarebook/keys",
        example: "/var/lib/tarebook/keys",
        means: "Folder of the signing keys, as --keys. Never inside a backup of the database.",
    },
    Setting {
        key: "organisation",
        holds: Holds::Text,
        default: "the only one of the database",
        example: "Tamarack Ridge Mechanical",
        means: "Organisation to work for when --organisation is not given.",
    },
    Setting {
        key: "listen",
        holds: Holds::Text,
        default: "127.0.0.1:8080",
        example: "127.0.0.1:8080",
        means: "Address and port that `serve` listens on, as --listen. It speaks HTTP/1.1 without \
                TLS: put a proxy before it.",
    },
    Setting {
        key: "metrics_listen",
        holds: Holds::Text,
        default: "none; nothing is given",
        example: "127.0.0.1:9464",
        means: "Address and port of the measurements (/metrics, OpenMetrics text). They tell nothing \
                of what is booked, but belong inside the network.",
    },
    Setting {
        key: "workers",
        holds: Holds::Text,
        default: "as many as the machine has cores",
        example: "2",
        means: "Threads of `serve` that answer requests.",
    },
    Setting {
        key: "postings_per_commit",
        holds: Holds::Text,
        default: "256",
        example: "256",
        means: "Postings that wait at the same time and share one commit, at most. Fewer make the \
                service slower under load and no safer; 1 gives each a commit of its own.",
    },
    Setting {
        key: "origin",
        holds: Holds::Text,
        default: "none; pages are then expected from the host that a request names",
        example: "https://book.example",
        means: "What browsers show of the service's address. With https cookies are bound to TLS and \
                to this host, and other origins' changes are refused by name.",
    },
    Setting {
        key: "trusted_proxies",
        holds: Holds::Text,
        default: "none",
        example: "127.0.0.1",
        means: "IP addresses of proxies whose X-Forwarded-For is believed, with commas between \
                them. The limits of failed sign-ins count by the client's address.",
    },
    Setting {
        key: "access_records_days",
        holds: Holds::Text,
        default: "400",
        example: "400",
        means: "For how many days the record of who signed in, read names, took reports away or \
                changed who may is kept, 30 to 36500. `serve` removes older ones once a day, \
                `tarebook access-records clean` on request. What is booked stays for ever.",
    },
    Setting {
        key: "mail_transport",
        holds: Holds::Text,
        default: "none; no mail goes out",
        example: "smtp",
        means: "How mail goes out: smtp (through a mail server) or file (one .eml a message into \
                mail_folder, for another program to pick up). Needs mail_from and origin. People \
                choose on the page By mail what they get; nobody gets anything unasked.",
    },
    Setting {
        key: "mail_from",
        holds: Holds::Text,
        default: "none",
        example: "Tamarack Ridge book <book@tamarack.example>",
        means: "The sender of all mail.",
    },
    Setting {
        key: "mail_folder",
        holds: Holds::Text,
        default: "none",
        example: "/var/spool/tarebook",
        means: "With mail_transport file: the folder, which must be there.",
    },
    Setting {
        key: "mail_host",
        holds: Holds::Text,
        default: "none",
        example: "mail.tamarack.example",
        means: "With mail_transport smtp: the mail server.",
    },
    Setting {
        key: "mail_tls",
        holds: Holds::Text,
        default: "starttls",
        example: "starttls",
        means: "With mail_transport smtp: starttls (asked for and insisted on), tls (from the first \
                byte) or none (only to a mail server on this machine). Certificates are held against \
                those the machine trusts.",
    },
    Setting {
        key: "mail_port",
        holds: Holds::Text,
        default: "587 with starttls, 465 with tls, 25 without",
        example: "587",
        means: "With mail_transport smtp: its port.",
    },
    Setting {
        key: "mail_user",
        holds: Holds::Text,
        default: "none; the mail server lets this machine send",
        example: "book",
        means: "With mail_transport smtp: whom to sign in as there, with mail_password.",
    },
    Setting {
        key: "mail_password",
        holds: Holds::Secret,
        default: "none",
        example: "...",
        means: "The password for mail_user: prefer mail_password_file, which names a file that holds \
                it.",
    },
    Setting {
        key: "mail_hour",
        holds: Holds::Text,
        default: "6",
        example: "6",
        means: "The hour, 0 to 23, from which on the mail of a day is made, in the zone of each \
                organisation.",
    },
    Setting {
        key: "log_level",
        holds: Holds::Text,
        default: "info",
        example: "info",
        means: "What `serve` logs: error, warn, info, debug or trace.",
    },
    Setting {
        key: "log_format",
        holds: Holds::Text,
        default: "json",
        example: "json",
        means: "How `serve` logs: json (one object a line) or text.",
    },
    Setting {
        key: "saturation_tables",
        holds: Holds::Text,
        default: "none; the shipped tables alone",
        example: "/etc/tarebook/saturation",
        means: "Folder of saturation tables that manufacturers published, a .csv file each, for \
                refrigerants without one and for those whose maker is to be believed. deploy/README.md \
                shows one; check-config reads them.",
    },
    Setting {
        key: "allow_network_filesystem",
        holds: Holds::YesNo,
        default: "false",
        example: "false",
        means: "Open a SQLite book on a network file system all the same. Acknowledged entries can \
                be lost there.",
    },
    Setting {
        key: "quiet",
        holds: Holds::YesNo,
        default: "false",
        example: "false",
        means: "Say nothing on standard error but errors, as --quiet.",
    },
    Setting {
        key: "no_color",
        holds: Holds::YesNo,
        default: "false; true when NO_COLOR is set",
        example: "false",
        means: "Never colour what is written to a terminal, as --no-color.",
    },
];

/// The example file: every setting with its meaning and default, all of them commented out.
pub fn example_file() -> String {
    let mut text = String::from(
        "# Settings of tarebook. Every line is optional; what stands here is weaker than the\n\
         # environment (TAREBOOK_DATA, ...) and than the flags of a command. Read from the file\n\
         # that --config or TAREBOOK_CONFIG names, else from /etc/tarebook/tarebook.toml.\n",
    );
    for setting in SETTINGS {
        let quoted = match setting.holds {
            Holds::YesNo => setting.example.to_string(),
            Holds::Text | Holds::Secret => format!("\"{}\"", setting.example),
        };
        text.push('\n');
        for line in wrapped(&format!("{} Default: {}.", setting.means, setting.default)) {
            text.push_str(&format!("# {line}\n"));
        }
        text.push_str(&format!("#{} = {quoted}\n", setting.key));
        if setting.holds == Holds::Secret {
            text.push_str(&format!("#{}_file = \"/run/secrets/{0}\"\n", setting.key));
        }
    }
    text
}

fn wrapped(text: &str) -> Vec<String> {
    let mut lines = vec![String::new()];
    for word in text.split_whitespace() {
        let line = lines.last_mut().expect("there is always a line");
        if !line.is_empty() && line.len() + word.len() > 90 {
            lines.push(word.to_string());
        } else {
            line.push_str(if line.is_empty() { "" } else { " " });
            line.push_str(word);
        }
    }
    lines
}
