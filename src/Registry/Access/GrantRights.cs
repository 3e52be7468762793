using Npgsql;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Platform.Database;

namespace Registry.Access;

/// <summary>
/// Makes the logins of web and worker and states what they may do, table by table (<see cref="TableRights"/>), and which rows the reader
/// sees. Part of <c>migrate</c>, and run at each: rights follow the tables, and what somebody granted by hand is taken back.
/// </summary>
public static class GrantRights
{
    /// <remarks>A sub-select, so that the planner does not look at who the viewer is while it plans: a connection keeps its plans, and one
    /// made while nobody's site was set believes that a site has no infants and gathers all of them for every row it looks up.</remarks>
    private const string ViewerSite = "(select nullif(current_setting('registry.viewer_site', true), '')::uuid)";
    private const string ViewerKeys = "(select nullif(current_setting('registry.viewer_keys', true), '')::text[])::text[]";

    private static readonly string SeesOtherwise =
        $"(select coalesce(cardinality({ViewerKeys}), 0) > 0 or exists ({Visibility.Continued(ViewerSite)}))";

    private const string ViewerSeesAll = "(select current_setting('registry.viewer_sees_all', true) = 'true')";

    /// <param name="owner">A connection of the tables' owner.</param>
    /// <param name="logins">Names and passwords of the logins to make, where they are not there yet.</param>
    /// <param name="ct">Cancels.</param>
    public static async Task RunAsync(NpgsqlConnection owner, DatabaseLogins logins, CancellationToken ct)
    {
        var (writer, reader) = (new NpgsqlConnectionStringBuilder(logins.Writer), new NpgsqlConnectionStringBuilder(logins.Reader));
        // The writer checks and matches against every infant, and copies rows in, which row security does not let it.
        await MakeAsync(owner, writer, "bypassrls", ct);
        await MakeAsync(owner, reader, "nobypassrls", ct);
        await using var transaction = await owner.BeginTransactionAsync(ct);
        await AdvisoryLock.ForTransactionAsync(owner, LockedThing.Rights, "", ct);
        await using var grant = new NpgsqlCommand(Script(Name(writer.Username!), Name(reader.Username!), owner.PostgreSqlVersion), owner);
        await grant.ExecuteNonQueryAsync(ct);
        await transaction.CommitAsync(ct);
    }

    /// <summary>Refuses logins that could undo what protects the trail or see past the row security.</summary>
    /// <exception cref="InvalidOperationException">With what is wrong.</exception>
    public static async Task CheckAsync(DatabaseLogins logins, CancellationToken ct)
    {
        if (await ProblemAsync(logins.Writer, "rolsuper or not rolbypassrls", ct))
            throw new InvalidOperationException(
                "The login of ConnectionStrings:Registry is a superuser, owns the tables or has no right to pass row security: it could "
                    + "erase the access trail, or sees nothing. Let the migrate verb make it, or name one made for the program alone.");
        if (await ProblemAsync(logins.Reader, "rolsuper or rolbypassrls", ct))
            throw new InvalidOperationException(
                "The login of ConnectionStrings:RegistryReader is a superuser, owns the tables or passes row security: viewers would see "
                    + "every infant. Let the migrate verb make it, or name one made for the program alone.");
    }

    private static async Task<bool> ProblemAsync(string login, string wrong, CancellationToken ct)
    {
        await using var source = NpgsqlDataSource.Create(login);
        await using var ask = source.CreateCommand(
            $"""
            select {wrong} or rolcreaterole
                or exists (select from pg_class c
                            where c.relnamespace = 'public'::regnamespace and pg_has_role(r.oid, c.relowner, 'member'))
              from pg_roles r where rolname = current_user
            """);
        return (bool)(await ask.ExecuteScalarAsync(ct))!;
    }

    private static async Task MakeAsync(
        NpgsqlConnection owner, NpgsqlConnectionStringBuilder login, string rowSecurity, CancellationToken ct)
    {
        await using var find = new NpgsqlCommand("select 1 from pg_roles where rolname = $1", owner);
        find.Parameters.AddWithValue(login.Username!);
        if (await find.ExecuteScalarAsync(ct) is not null) return;
        try
        {
            await using var make = new NpgsqlCommand(
                $"create role {Name(login.Username!)} login {rowSecurity} password {Text(login.Password ?? "")}", owner);
            await make.ExecuteNonQueryAsync(ct);
        }
        catch (PostgresException error) when (error.SqlState is PostgresErrorCodes.DuplicateObject or PostgresErrorCodes.UniqueViolation)
        {
            // Made meanwhile, for another database of the same server.
        }
    }

    private static string Script(string writer, string reader, Version server)
    {
        var tables = string.Join('\n', TableRights.All.Select(table => Grants(table, writer, reader, server)));
        return EmbeddedSql.Read(typeof(GrantRights), nameof(GrantRights))
            .Replace("{writer}", writer, StringComparison.Ordinal)
            .Replace("{reader}", reader, StringComparison.Ordinal)
            .Replace("{of site}", Visibility.OfSite(ViewerSite), StringComparison.Ordinal)
            .Replace("{otherwise}", Visibility.Otherwise(ViewerSite, ViewerKeys), StringComparison.Ordinal)
            .Replace("{tables}", tables, StringComparison.Ordinal)
            .Replace("{who sees whom}", $"{InfantSites.Triggers()}\n{InfantShown.Triggers}", StringComparison.Ordinal);
    }

    private static string Grants(TableRights table, string writer, string reader, Version server)
    {
        var name = Name(table.Table);
        var rights = table.Writes.Length == 0 ? "select" : "select, " + table.Writes;
        // A table that grew from nothing is planned badly until it is analyzed.
        if (server.Major >= 17) rights += ", maintain";
        var grants = $"grant {rights} on {name} to {writer};";
        if (table.Reader == ReaderSees.Nothing) return grants;
        grants += $"\ngrant select on {name} to {reader};";
        return table.Reader == ReaderSees.All ? grants : grants + $"""

            alter table {name} enable row level security;
            drop policy if exists seen_by_viewer on {name};
            create policy seen_by_viewer on {name} for select to {reader} using ({ViewerSeesAll} or {Seen(table)});
            """;
    }

    /// <summary>As questions about one row, so that the planner may look the infant up or gather the site's infants once, whichever is
    /// cheaper: it knows how many one site has, and not how many several and keys have, so these are asked apart, and only where there are
    /// any. The detail of a test follows its test, that of an evaluation its diagnosis: one probe of an index each (<c>offset 0</c>),
    /// however few diagnoses there were when it was planned.</summary>
    private static string Seen(TableRights table) =>
        table.Reader == ReaderSees.OwnSites ? $"site_id = {ViewerSite} or site_id = any (array({Visibility.Continued(ViewerSite)}))"
        : table.Reader == ReaderSees.OwnKeys ? $"shown_to = any ({ViewerKeys})"
        : table.Infant == "screening_id" ? $"exists (select from screenings s where s.id = {Name(table.Table)}.screening_id)"
        : table.Infant == "diagnosis_id" ? $"exists (select from diagnoses d where d.id = {Name(table.Table)}.diagnosis_id offset 0)"
        : $"exists (select from infants_of_site v where v.infant_id = {Name(table.Table)}.{table.Infant})"
            + $" or ({SeesOtherwise} and exists (select from infants_otherwise v where v.infant_id = {Name(table.Table)}.{table.Infant}))";

    private static string Name(string identifier) => $"\"{identifier.Replace("\"", "\"\"", StringComparison.Ordinal)}\"";

    private static string Text(string value) =>
        $"E'{value.Replace("\\", "\\\\", StringComparison.Ordinal).Replace("'", "''", StringComparison.Ordinal)}'";
}
