namespace Registry.Platform.EmbeddedPostgres;

/// <summary>A PostgreSQL installation found on this machine.</summary>
/// <param name="BinFolder">Folder with <c>postgres</c>, <c>initdb</c> and <c>pg_ctl</c>.</param>
/// <param name="Version">As the binary says it, such as 18.4.</param>
/// <param name="Origin">Where it came from, for people: "npm package", "installed server".</param>
public sealed record PostgresServer(string BinFolder, Version Version, string Origin)
{
    /// <summary>The oldest major version the registry's schema is written for.</summary>
    public const int OldestMajor = 15;

    /// <summary>Full path of one of the server's tools.</summary>
    public string Tool(string name) => PathOf(BinFolder, name);

    public static string PathOf(string binFolder, string name) =>
        Path.Combine(binFolder, OperatingSystem.IsWindows() ? name + ".exe" : name);

    /// <summary>Reads "postgres (PostgreSQL) 18.4 (vendor text)".</summary>
    public static Version? ReadVersion(string output)
    {
        const string Mark = "(PostgreSQL) ";
        var at = output.IndexOf(Mark, StringComparison.Ordinal);
        if (at < 0) return null;
        var digits = new string([.. output[(at + Mark.Length)..].TakeWhile(c => char.IsAsciiDigit(c) || c == '.')]);
        if (!digits.Contains('.', StringComparison.Ordinal)) digits += ".0";
        return Version.TryParse(digits, out var version) ? version : null;
    }
}
