using Npgsql;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Platform.Database;
using Registry.Rules.Facts;

namespace Registry.Access;

/// <summary>What a connection of the reader sees. Each is a role that logs in nowhere, with policies of its own: what one need not ask
/// costs it nothing.</summary>
public enum ReaderView
{
    /// <summary>Everything: a coordinator.</summary>
    Region,

    /// <summary>The infants of one site.</summary>
    Site,

    /// <summary>Those of a site, of closed sites it continues, and those shown by keys (<see cref="Viewer.Keys"/>).</summary>
    Keys,
}

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

    /// <param name="owner">A connection of the tables' owner.</param>
    /// <param name="logins">Names and passwords of the logins to make, where they are not there yet.</param>
    /// <param name="ct">Cancels.</param>
    public static async Task RunAsync(NpgsqlConnection owner, DatabaseLogins logins, CancellationToken ct)
    {
        var (writer, reader) = (new NpgsqlConnectionStringBuilder(logins.Writer), new NpgsqlConnectionStringBuilder(logins.Reader));
        // The writer checks and matches against every infant, and copies rows in, which row security does not let it.
        await MakeAsync(owner, writer.Username!, $"login bypassrls password {Text(writer.Password ?? "")}", ct);
        await MakeAsync(owner, reader.Username!, $"login noinherit nobypassrls password {Text(reader.Password ?? "")}", ct);
        foreach (var view in Enum.GetValues<ReaderView>())
        {
            await MakeAsync(owner, Role(reader, view), "nologin nobypassrls", ct);
            await LetBecomeAsync(owner, reader.Username!, Role(reader, view), ct);
        }

        await using var transaction = await owner.BeginTransactionAsync(ct);
        await AdvisoryLock.ForTransactionAsync(owner, LockedThing.Rights, "", ct);
        await using var grant = new NpgsqlCommand(Script(Name(writer.Username!), reader, owner.PostgreSqlVersion), owner);
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

    /// <summary>The role in which a connection of the reader reads.</summary>
    public static string Role(NpgsqlConnectionStringBuilder reader, ReaderView view) => $"{reader.Username}_{Codes.Of(view)}";

    private static Task MakeAsync(NpgsqlConnection owner, string role, string rights, CancellationToken ct) =>
        UnlessAsync(owner, "exists (select from pg_roles where rolname = $1)", [role], $"create role {Name(role)} {rights}", ct);

    /// <summary>The login becomes one of its roles and has nothing of them before: one that said nothing meets no policy, and sees
    /// nothing.</summary>
    private static Task LetBecomeAsync(NpgsqlConnection owner, string login, string role, CancellationToken ct) =>
        UnlessAsync(owner, "pg_has_role($1::name, $2::name, 'member') and not pg_has_role($1::name, $2::name, 'usage')", [login, role],
            owner.PostgreSqlVersion.Major >= 16
                ? $"grant {Name(role)} to {Name(login)} with inherit false, set true"
                : $"alter role {Name(login)} noinherit; grant {Name(role)} to {Name(login)}", ct);

    private static async Task UnlessAsync(NpgsqlConnection owner, string condition, string[] values, string sql, CancellationToken ct)
    {
        await using var find = new NpgsqlCommand("select " + condition, owner);
        foreach (var value in values) find.Parameters.AddWithValue(value);
        if (await find.ExecuteScalarAsync(ct) is true) return;
        try
        {
            await using var make = new NpgsqlCommand(sql, owner);
            await make.ExecuteNonQueryAsync(ct);
        }
        catch (PostgresException error) when (error.SqlState is PostgresErrorCodes.DuplicateObject or PostgresErrorCodes.UniqueViolation)
        {
            // Made meanwhile, for another database of the same server.
        }
    }

    private static string Script(string writer, NpgsqlConnectionStringBuilder login, Version server)
    {
        var views = Enum.GetValues<ReaderView>().Select(view => (View: view, Role: Name(Role(login, view)))).ToList();
        var readers = string.Join(", ", views.Select(v => v.Role).Prepend(Name(login.Username!)));
        return EmbeddedSql.Read(typeof(GrantRights), nameof(GrantRights))
            .Replace("{writer}", writer, StringComparison.Ordinal)
            .Replace("{readers}", readers, StringComparison.Ordinal)
            .Replace("{of site}", Visibility.OfSite(ViewerSite), StringComparison.Ordinal)
            .Replace("{otherwise}", Visibility.Otherwise(ViewerSite, ViewerKeys), StringComparison.Ordinal)
            .Replace("{one by one}", Visibility.OneByOne(ViewerKeys), StringComparison.Ordinal)
            .Replace("{tables}", string.Join('\n', TableRights.All.Select(t => Grants(t, writer, readers, views, server))),
                StringComparison.Ordinal)
            .Replace("{who sees whom}", $"{InfantSites.Triggers()}\n{InfantShown.Triggers}", StringComparison.Ordinal);
    }

    private static string Grants(
        TableRights table, string writer, string readers, IEnumerable<(ReaderView View, string Role)> views, Version server)
    {
        var name = Name(table.Table);
        var rights = table.Writes.Length == 0 ? "select" : "select, " + table.Writes;
        // A table that grew from nothing is planned badly until it is analyzed.
        if (server.Major >= 17) rights += ", maintain";
        var grants = $"grant {rights} on {name} to {writer};";
        if (table.Reader == ReaderSees.Nothing) return grants;
        grants += $"\ngrant select on {name} to {readers};";
        if (table.Reader == ReaderSees.All) return grants;
        return grants + $"\nalter table {name} enable row level security;" + string.Concat(views.Select(v =>
            $"\ncreate policy seen_by_{Codes.Of(v.View)} on {name} for select to {v.Role} using ({Seen(table, v.View)});"));
    }

    /// <summary>As questions about one row, so that the planner may look the infant up or gather the site's infants once, whichever is
    /// cheaper: it knows how many one site has, and not how many several and keys have, so these are asked apart, and only of who has
    /// any. The detail of a test follows its test, that of an evaluation its diagnosis: one probe of an index each (<c>offset 0</c>),
    /// however few diagnoses there were when it was planned.</summary>
    private static string Seen(TableRights table, ReaderView view)
    {
        if (view == ReaderView.Region) return "true";
        if (table.Infant == "screening_id") return $"exists (select from screenings s where s.id = {Name(table.Table)}.screening_id)";
        if (table.Infant == "diagnosis_id")
            return $"exists (select from diagnoses d where d.id = {Name(table.Table)}.diagnosis_id offset 0)";
        var ofSite = table.Reader switch
        {
            ReaderSees.OwnSites => $"{table.Infant} = {ViewerSite}",
            ReaderSees.OwnKeys => "false",
            _ when table.PerSite is { } seeing => $"{seeing} = {ViewerSite}",
            _ => (table.OfSite is { } own ? $"{own} = {ViewerSite} or " : "")
                + $"exists (select from infants_of_site v where v.infant_id = {Name(table.Table)}.{table.Infant})",
        };
        if (view == ReaderView.Site) return ofSite;
        // Each row says by itself which site and county see the infant: those shown one by one are a few.
        if (table.PerSite is { } site)
            return $"{table.OfKey} = any ({ViewerKeys}) or {ofSite} or {site} = any (array({Visibility.Continued(ViewerSite)})) "
                + $"or {table.Infant} = any (array(select v.infant_id from infants_one_by_one v))";
        if (table.OfKey is { } key) ofSite = $"{key} = any ({ViewerKeys}) or {ofSite}";
        return $"{ofSite} or " + table.Reader switch
        {
            ReaderSees.OwnSites => $"{table.Infant} = any (array({Visibility.Continued(ViewerSite)}))",
            ReaderSees.OwnKeys => $"shown_to = any ({ViewerKeys})",
            _ => $"exists (select from infants_otherwise v where v.infant_id = {Name(table.Table)}.{table.Infant})",
        };
    }

    private static string Name(string identifier) => $"\"{identifier.Replace("\"", "\"\"", StringComparison.Ordinal)}\"";

    private static string Text(string value) =>
        $"E'{value.Replace("\\", "\\\\", StringComparison.Ordinal).Replace("'", "''", StringComparison.Ordinal)}'";
}
