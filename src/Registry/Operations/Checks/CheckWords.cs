using System.Globalization;
using Npgsql;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Platform.Encryption;

namespace Registry.Operations.Checks;

/// <summary>What <c>check</c> says of what it found, and what to do.</summary>
internal static class CheckWords
{
    public static CheckLine Configured(string environment, ProgramOptions program) => CheckLine.Sound("Configuration",
        $"every setting is within its limits; {environment}; today by {program.TimeZone}");

    /// <summary>Names of settings and what they must be; the validators repeat no value.</summary>
    public static CheckLine Misconfigured(Exception wrong) => CheckLine.Broken("Configuration",
        string.Join("; ", (wrong as Microsoft.Extensions.Options.OptionsValidationException)?.Failures ?? [wrong.GetType().Name]),
        "Correct these settings: the program does not start with them.");

    public static CheckLine FieldKeys(FieldKeys keys, bool isOwn) => isOwn
        ? CheckLine.Sound("Field keys", $"{keys.Count}; {keys.CurrentId} encrypts")
        : CheckLine.Attention("Field keys", $"made by itself in the data folder; {keys.CurrentId} encrypts",
            $"For anything but a demonstration make a file (keys new --out FILE), set {FieldKeyFile.Setting} and keep a copy apart.");

    public static CheckLine Disk((string Folder, long? FreeMebibytes) disk, int least) => disk.FreeMebibytes is not { } free
        ? CheckLine.Attention("Disk", $"the free space of {disk.Folder} cannot be read", "Watch it by other means.")
        : free >= least ? CheckLine.Sound("Disk", $"{Count(free)} MiB free in {disk.Folder}")
        : CheckLine.Broken("Disk", $"only {Count(free)} MiB free in {disk.Folder}; {Count(least)} should be",
            "Free some, or move the data folder: when it is full nothing is taken in any more.");

    public static CheckLine NoMailServer() => CheckLine.Attention("Mail", "no mail server: letters and alarms are written as files",
        "Set Outreach:Smtp:Host.");

    public static CheckLine MailAnswers(string host, int port) => CheckLine.Sound("Mail", $"{host}:{port} takes connections");

    public static CheckLine MailSilent(string host, int port) => CheckLine.Broken("Mail", $"{host}:{port} takes no connection",
        "See that the mail server runs and that this machine may reach it (Outreach:Smtp).");

    public static CheckLine Certificate(string setting, DateTime from, DateTime until, DateTimeOffset now, TimeSpan soon) =>
        until.ToUniversalTime() <= now.UtcDateTime ? CheckLine.Broken("Certificate", $"{setting}: ended {Day(until)}",
            "Put a new one in its place and restart.")
        : from.ToUniversalTime() > now.UtcDateTime ? CheckLine.Broken("Certificate", $"{setting}: holds from {Day(from)} on only",
            "See that the clocks agree, or use one that holds now.")
        : until.ToUniversalTime() <= now.UtcDateTime + soon ? CheckLine.Attention("Certificate", $"{setting}: ends {Day(until)}",
            "Get a new one before that day.")
        : CheckLine.Sound("Certificate", $"{setting}: holds until {Day(until)}");

    /// <summary>By the kind of error: its text may name a path or a password's fault.</summary>
    public static CheckLine CertificateUnreadable(string setting, Exception e) => CheckLine.Broken("Certificate",
        $"{setting}: cannot be read ({e.GetType().Name})",
        "See that the file is there, that the program may read it, and that its key fits.");

    public static CheckLine CertificateUntrusted(string setting, DateTime until) => CheckLine.Broken("Certificate",
        $"{setting}: not trusted by this machine; ends {Day(until)}", "Let the proxy show a certificate of its name, with its chain.");

    public static CheckLine CertificateNotShown(string setting) => CheckLine.Attention("Certificate",
        $"{setting}: no TLS answer from here", "See from outside that families reach it; from this machine it may be out of reach.");

    public static CheckLine NoFormKeys(int all) => CheckLine.Sound("Form keys", $"{all} kept, none in force: the next start makes one");

    public static CheckLine FormKeys(int current, int open, DateTimeOffset until) => open == current
        ? CheckLine.Sound("Form keys", $"{current} in force, until {Day(until.UtcDateTime)}")
        : CheckLine.Attention("Form keys",
            $"{current - open} of {current} in force cannot be opened: forms opened before must be opened again",
            "Set Access:KeyPassphrase to what they were made with, unless it was changed on purpose.");

    public static CheckLine NoDatabase(NpgsqlException e) => CheckLine.Broken("Database", $"does not answer ({DatabaseOutage.Name(e)})",
        "See that it runs, that this machine may reach it, and that ConnectionStrings:Registry names it.");

    public static CheckLine Server(string version, bool recent, bool checksums) =>
        !recent ? CheckLine.Broken("Database", $"PostgreSQL {version}", "Use PostgreSQL 17 or newer.")
        : !checksums ? CheckLine.Attention("Database", $"PostgreSQL {version}, without data checksums",
            "Make the cluster with --data-checksums: a page damaged on disk is noticed then.")
        : CheckLine.Sound("Database", $"PostgreSQL {version}, with data checksums");

    public static CheckLine Schema(string? has, string needs) => has == needs ? CheckLine.Sound("Schema", needs)
        : CheckLine.Broken("Schema", $"has {has ?? "none"}, needs {needs}", "Run the migrate verb of this program.");

    public static CheckLine Rights(string role, bool superuser, int couldErase) =>
        superuser ? CheckLine.Attention("Rights", $"'{role}' is a superuser of the database",
            "Use a role of its own: migrate makes it. A superuser may set every guard aside.")
        : couldErase > 0 ? CheckLine.Attention("Rights", $"'{role}' could delete rows of {couldErase} append-only tables",
            "Let migrate run as the owner (ConnectionStrings:RegistryOwner) and the program as a role that owns nothing.")
        : CheckLine.Sound("Rights", $"'{role}' can delete nothing that is append-only");

    public static CheckLine Clock(TimeSpan drift, TimeSpan most, string zone) => drift <= most
        ? CheckLine.Sound("Clock", $"agrees with the database's; {zone}")
        : CheckLine.Broken("Clock", string.Create(CultureInfo.InvariantCulture, $"{drift.TotalSeconds:0} s from the database's"),
            "Let both machines follow a time server: days and deadlines are counted by them.");

    private static string Day(DateTime at) => at.ToUniversalTime().ToString("yyyy-MM-dd", CultureInfo.InvariantCulture);

    private static string Count(long n) => n.ToString("#,0", CultureInfo.InvariantCulture);
}
