using Npgsql;
using Registry.Access;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Platform.Encryption;
using Registry.Records;
using Registry.Rules;
using Registry.Rules.Linkage;

namespace Registry.Infants.Find;

/// <summary>One infant that was found, with who it is: whoever searches knows a name and looks for its infant.</summary>
public sealed record FoundInfant
{
    public required InfantId Id { get; init; }
    public required DateOnly BornOn { get; init; }
    public required string Name { get; init; }
    public required string Mother { get; init; }
    public required string BirthSite { get; init; }
    public required string? RecordNumber { get; init; }

    /// <summary>Record numbers and cards that were typed.</summary>
    public required IReadOnlyList<string> Numbers { get; init; }
    public required bool PhoneMatches { get; init; }
    public required ScreeningConclusion? Screening { get; init; }
    public required DueStep? NextStep { get; init; }
    public required DateOnly? NextDueOn { get; init; }
}

/// <summary>What was found.</summary>
/// <param name="Terms">What was read of the text.</param>
/// <param name="Infants">The best first, at most <see cref="FindInfants.Most"/>.</param>
/// <param name="More">There are others.</param>
/// <param name="AllButOne">None matches all that was typed; these match all of it but one part.</param>
/// <param name="Words">Words of names that count as what was typed.</param>
public sealed record FoundInfants(
    IReadOnlyList<SearchTerm> Terms, IReadOnlyList<FoundInfant> Infants, bool More, bool AllButOne, IReadOnlySet<string> Words);

/// <summary>
/// Finds infants the viewer sees by what somebody knows of them: words of names in any order, a birth date, a telephone number, a record
/// number, a card. First those that match to the letter, then those a slip of a finger or the ear explains; where nobody matches
/// everything, those that match all but one part.
/// </summary>
/// <remarks>Which words a typed one may stand for is asked of all words there are (<see cref="SearchWord"/>), which belong to nobody; who
/// has them, beneath row security, by indexes on equal values: a test of likeness beneath it could use none, and would tell by its time who
/// is there.</remarks>
public sealed class FindInfants(ViewerDatabase data)
{
    /// <summary>More are not looked through: another word is.</summary>
    public const int Most = 25;

    private const string PlanOnce = "select set_config('plan_cache_mode', 'force_generic_plan', true)";
    private static readonly string WordsSql = EmbeddedSql.Of<FindInfants>("FindLikeWords");
    private static readonly string ShowSql = EmbeddedSql.Of<FindInfants>("ShowFound")
        .Replace("{visible}", Visibility.Where("f.infant_id"), StringComparison.Ordinal);

    /// <param name="terms">One at least.</param>
    /// <param name="viewer">Who asks.</param>
    /// <param name="ct">Cancels.</param>
    public async Task<FoundInfants> RunAsync(IReadOnlyList<SearchTerm> terms, Viewer viewer, CancellationToken ct)
    {
        await using var connection = await data.OpenAsync(viewer, ct);
        var like = await LikeAsync(connection, terms, ct);
        var asked = terms.Select((t, i) => new AskedTerm(t, like[i])).ToList();
        // One name may be everybody's: the youngest who have it to the letter fill the page, and nobody else is looked at.
        List<Guid> found = asked.Count == 1 ? await FindAsync(connection, asked, exactly: true, ct) : [];
        if (found.Count <= Most) Add(await FindAsync(connection, asked, exactly: false, ct));
        var allButOne = found.Count == 0 && terms.Count > 1;
        for (var i = 0; allButOne && i < terms.Count; i++)
            Add(await FindAsync(connection, [.. asked.Where((_, at) => at != i)], exactly: false, ct));
        var words = like.SelectMany(w => w).ToHashSet();
        return new(terms, await ShowAsync(connection, viewer, terms, [.. found.Take(Most)], ct), found.Count > Most,
            allButOne && found.Count > 0, words);

        void Add(List<Guid> others) => found = [.. found.Union(others)];
    }

    /// <returns>For each term the words it may stand for, itself first; none for one that is no name.</returns>
    private static async Task<IReadOnlyList<string>[]> LikeAsync(
        NpgsqlConnection connection, IReadOnlyList<SearchTerm> terms, CancellationToken ct)
    {
        var words = terms.Select(t => t.Word is null ? [] : new List<string> { t.Word }).ToArray();
        var named = Enumerable.Range(0, terms.Count).Where(i => terms[i].Word is not null).ToArray();
        if (named.Length == 0) return words;
        await using var command = new NpgsqlCommand(WordsSql, connection);
        command.Parameters.AddWithValue("words", Array.ConvertAll(named, i => terms[i].Word!));
        await using var reader = await command.ExecuteReaderAsync(ct);
        while (await reader.ReadAsync(ct)) words[named[reader.GetInt32(0) - 1]].Add(reader.GetString(1));
        return words;
    }

    /// <summary>One more than <see cref="Most"/> of the infants that match every term, the best first, beneath row security; the rule is
    /// asked of those that are shown.</summary>
    private static async Task<List<Guid>> FindAsync(
        NpgsqlConnection connection, List<AskedTerm> terms, bool exactly, CancellationToken ct)
    {
        await using var command = connection.CreateCommand();
        command.Parameters.AddWithValue("most", Most + 1);
        // What few people share is asked first.
        var parts = terms.OrderBy(t => t.Term.Word is not null).Select((t, i) => t.Sql(command, i, exactly)).ToList();
        command.CommandText = exactly ? Youngest(parts[0]) : Likest(parts);
        var found = new List<Guid>();
        await using var reader = await command.ExecuteReaderAsync(ct);
        while (await reader.ReadAsync(ct)) found.Add(reader.GetGuid(0));
        return found;
    }

    /// <summary>What is shown of those that are found, in their order: one statement whatever was typed, so that it is planned
    /// once.</summary>
    private static async Task<List<FoundInfant>> ShowAsync(
        NpgsqlConnection connection, Viewer viewer, IReadOnlyList<SearchTerm> terms, Guid[] infants, CancellationToken ct)
    {
        var shown = new List<FoundInfant>();
        if (infants.Length == 0) return shown;
        // Looked up by their ids, they need no plan of their own each time.
        await using var batch = new NpgsqlBatch(connection) { BatchCommands = { new(PlanOnce), new(ShowSql) } };
        var command = batch.BatchCommands[1];
        command.Parameters.AddRange(Visibility.Parameters(viewer));
        command.Parameters.AddWithValue("infants", infants);
        command.Parameters.AddWithValue("phones", AskedTerm.PhoneKeys(terms.SelectMany(t => t.Phones)));
        command.Parameters.AddWithValue("numbers", terms.SelectMany(t => t.Numbers).ToArray());
        command.Parameters.AddWithValue("own_site", viewer.SiteId?.Value ?? Guid.Empty);
        await using var reader = await batch.ExecuteReaderAsync(ct);
        await reader.NextResultAsync(ct);
        while (await reader.ReadAsync(ct)) shown.Add(Read(reader));
        return shown;
    }

    private static string Youngest(string part) =>
        $"""
        select distinct t0.infant_id, t0.born_on from ({part}) t0
         order by t0.born_on desc, t0.infant_id desc limit @most
        """;

    private static string Likest(List<string> parts) =>
        $"""
        select t0.infant_id from ({parts[0]}) t0
          {string.Concat(parts.Skip(1).Select((p, i) => $"join ({p}) t{i + 1} on t{i + 1}.infant_id = t0.infant_id "))}
         group by t0.infant_id
         order by min({string.Join(" + ", parts.Select((_, i) => $"t{i}.place"))}), max(t0.born_on) desc nulls last, t0.infant_id
         limit @most
        """;

    private static FoundInfant Read(NpgsqlDataReader r) => new()
    {
        Id = new(r.GetGuid(0)),
        BornOn = r.Date(1),
        Name = $"{r.TextOrNull(2)} {r.TextOrNull(3)}".Trim(),
        Mother = $"{r.TextOrNull(4)} {r.TextOrNull(5)}".Trim(),
        BirthSite = r.GetString(6),
        RecordNumber = r.TextOrNull(7),
        Numbers = r.IsDBNull(8) ? [] : r.GetFieldValue<string[]>(8),
        PhoneMatches = r.GetBoolean(9),
        Screening = r.CodeOrNull<ScreeningConclusion>(10),
        NextStep = r.CodeOrNull<DueStep>(11),
        NextDueOn = r.ValueOrNull<DateOnly>(12),
    };
}

/// <summary>A term as it is asked of the database.</summary>
/// <param name="Words">A name's word, and those it may stand for.</param>
internal sealed record AskedTerm(SearchTerm Term, IReadOnlyList<string> Words)
{
    /// <summary>A query of infants with the place of what matched, 1 for to the letter. Its text depends on what kind of term it is and
    /// where it stands, never on what was typed.</summary>
    public string Sql(NpgsqlCommand command, int at, bool exactly)
    {
        var parts = new List<string>();
        if (Words.Count > 0)
            parts.Add($"""
                select w.infant_id, w.born_on, array_position({Bind<string>("words", exactly ? Words.Take(1) : Words)}, w.word) as place
                  from infant_words w where w.word = any(@words{at})
                """);
        if (Term.Days.Count > 0)
            parts.Add($"""
                select b.infant_id, b.born_on, array_position({Bind("days", exactly ? Term.Days.Take(1) : Term.Days)}, b.born_on)
                  from births b where b.superseded_at is null and b.born_on = any(@days{at})
                """);
        if (Term.Phones.Count > 0)
            parts.Add($"""
                select b.infant_id, b.born_on, 1 from births b
                 where b.superseded_at is null and b.contact_phone_key is not null
                   and b.contact_phone_key = any({Bind("phones", PhoneKeys(Term.Phones))})
                union all
                select f.infant_id, null::date, 1 from family_contacts f
                 where f.superseded_at is null and f.contact_phone_key is not null and f.contact_phone_key = any(@phones{at})
                union all
                select f.infant_id, null::date, 1 from family_contacts f
                 where f.superseded_at is null and f.other_phone_key is not null and f.other_phone_key = any(@phones{at})
                """);
        if (Term.Numbers.Count > 0)
            parts.Add($"""
                select i.infant_id, null::date, 1 from infant_identifiers i
                 where i.superseded_at is null and i.kind = 'card_id' and i.value = any({Bind("numbers", Term.Numbers)})
                union all
                select i.infant_id, null::date, 1 from infant_identifiers i
                 where i.superseded_at is null and i.kind = 'record_number' and i.value = any(@numbers{at})
                """);
        if (parts.Count == 0) parts.Add("select null::uuid, null::date, 1 where false");
        return $"select * from ({string.Join(" union all ", parts)}) as every (infant_id, born_on, place)";

        string Bind<T>(string name, IEnumerable<T> values)
        {
            command.Parameters.AddWithValue($"{name}{at}", values.ToArray());
            return $"@{name}{at}";
        }
    }

    public static string[] PhoneKeys(IEnumerable<string> digits) => [.. digits.Select(d => FieldKeys.OfProcess.KeyOfPhone(d)!)];
}
