using Npgsql;
using NpgsqlTypes;
using Registry.Platform.Data;
using Registry.Platform.Encryption;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Facts;

/// <summary>Describes the table of one kind: each call adds a column, which the readers are then written with. Done once, when the program
/// starts; a fact is read and written by position, without looking anything up.</summary>
internal sealed class FactTable<T>(RowKind kind, string table, string day) : FactKind(kind, table, day) where T : ReportedFact<T>
{
    private const string Common = "id, infant_id, site_id, recorded_at, superseded_at, submission_id, row_number";
    private readonly List<FactColumn> _columns = [];
    private readonly List<(string Name, Action<NpgsqlBinaryImporter, T> Write)> _written = [];
    private Func<NpgsqlDataReader, T>? _read;
    private Func<NpgsqlConnection, IReadOnlyList<RecordedFact>, CancellationToken, Task>? _writeDetail;
    private Func<object?, NpgsqlDataReader, object>? _gather;
    private Func<InfantFacts, object, InfantFacts>? _give;
    private string? _copy;

    public override Type Reported => typeof(T);
    public override bool IsForRules => _gather is not null;
    public override IReadOnlyList<FactColumn> Columns => _columns;
    public override IReadOnlyList<string> Written => [.. _written.Select(w => w.Name)];

    public FactColumn<string?> Text(string name, Func<T, string?> of) =>
        Own(name, static (r, i) => r.TextOrNull(i), (w, f) => w.Text(of(f)));

    public FactColumn<TCode> Code<TCode>(string name, Func<T, TCode> of) where TCode : struct, Enum =>
        Own(name, static (r, i) => r.Code<TCode>(i), (w, f) => w.Code(of(f)));

    public FactColumn<TCode?> CodeOrNull<TCode>(string name, Func<T, TCode?> of) where TCode : struct, Enum =>
        Own(name, static (r, i) => r.CodeOrNull<TCode>(i), (w, f) => w.Code(of(f)));

    public FactColumn<int?> Number(string name, Func<T, int?> of) =>
        Own(name, static (r, i) => r.ValueOrNull<int>(i), (w, f) => w.Number(of(f)));

    public FactColumn<bool> Bool(string name, Func<T, bool> of) =>
        Own(name, static (r, i) => r.GetBoolean(i), (w, f) => w.Bool(of(f)));

    public FactColumn<bool?> Bool(string name, Func<T, bool?> of) =>
        Own(name, static (r, i) => r.ValueOrNull<bool>(i), (w, f) => w.Bool(of(f)));

    public FactColumn<DateOnly> Date(string name, Func<T, DateOnly> of) =>
        Own(name, static (r, i) => r.Date(i), (w, f) => w.Date(of(f)));

    public FactColumn<DateOnly?> Date(string name, Func<T, DateOnly?> of) =>
        Own(name, static (r, i) => r.ValueOrNull<DateOnly>(i), (w, f) => w.Date(of(f)));

    public FactColumn<TimeOnly?> Time(string name, Func<T, TimeOnly?> of) =>
        Own(name, static (r, i) => r.ValueOrNull<TimeOnly>(i), (w, f) => w.Time(of(f)));

    /// <summary>Local date and time.</summary>
    public FactColumn<DateTime> LocalTime(string name, Func<T, DateTime> of) =>
        Own(name, static (r, i) => r.GetDateTime(i), (w, f) => w.Write(of(f), NpgsqlDbType.Timestamp));

    /// <summary>A site that sees the infant as long as the fact holds and what is asked besides.</summary>
    public FactColumn<Guid> SiteThatSees(string name, Opening asks, Func<T, Guid> of)
    {
        Seeing.Add((name, asks));
        return Own(name, static (r, i) => r.GetGuid(i), (w, f) => w.Id(of(f)));
    }

    /// <inheritdoc cref="SiteThatSees(string, Opening, Func{T, Guid})"/>
    public FactColumn<Guid?> SiteThatSees(string name, Opening asks, Func<T, Guid?> of)
    {
        Seeing.Add((name, asks));
        return Own(name, static (r, i) => r.ValueOrNull<Guid>(i), (w, f) => w.Id(of(f)));
    }

    /// <summary>Its own site sees the infant by what it said itself.</summary>
    public void OpensByOwnWord() => Seeing[0] = ("site_id", Opening.OwnWord);

    /// <summary>Columns a page fills in for what was entered on it, and no row.</summary>
    public void FilledByPages(params string[] names) => OfPages = names;

    /// <summary>A text that is encrypted in the table, and so leaves in no export.</summary>
    public FactColumn<string?> Secret(string name, Func<T, string?> of)
    {
        var place = $"{Table}.{name}";
        return Own(name, (r, i) => FieldKeys.OfProcess.Decrypt(r.TextOrNull(i), place),
            (w, f) => w.Text(FieldKeys.OfProcess.Encrypt(of(f), place))).Encrypted();
    }

    /// <summary>A column derived from the fact: written to look it up by, never read.</summary>
    public void Key(string name, Func<T, string?> of) => _written.Add((name, (w, f) => w.Text(of(f))));

    /// <summary>The words of a fact are those of its submission's site.</summary>
    public void SaidByItsSubmission() => IsSaidByItsSubmission = true;

    public void DetailIn(FactDetail detail, Func<NpgsqlConnection, IReadOnlyList<RecordedFact>, CancellationToken, Task> write) =>
        (Detail, _writeDetail) = (detail, write);

    public FactColumn<TValue> OfDetail<TValue>(string name, Func<NpgsqlDataReader, int, TValue> read) => Add(name, true, read);

    public void ReadAs(Func<NpgsqlDataReader, T> read) => _read = read;

    /// <summary>What the rules are given: made of the columns up to <paramref name="last"/>, without it of those named so far, and put
    /// where they look for it.</summary>
    public void ForRules<TRule>(
        Func<NpgsqlDataReader, TRule> read, Func<InfantFacts, TRule[], InfantFacts> put, FactColumn? last = null)
    {
        ColumnsForRules = last is null ? _columns.Count : _columns.IndexOf(last) + 1;
        _gather = (gathered, row) =>
        {
            var facts = (List<TRule>?)gathered ?? [];
            facts.Add(read(row));
            return facts;
        };
        _give = (facts, gathered) => put(facts, [.. (List<TRule>)gathered]);
    }

    internal override ReportedFact Read(NpgsqlDataReader row) => _read!(row);

    internal override async Task WriteAsync(NpgsqlConnection connection, IReadOnlyList<RecordedFact> facts, CancellationToken ct)
    {
        _copy ??= $"copy {Table} ({Common}, {string.Join(", ", Written)}) from stdin (format binary)";
        await CopyRows.RunAsync(connection, _copy, facts, Write, ct);
        if (_writeDetail is { } writeDetail) await writeDetail(connection, facts, ct);
    }

    internal override object GatherForRules(object? gathered, NpgsqlDataReader row) => _gather!(gathered, row);

    internal override InfantFacts GiveToRules(InfantFacts facts, object gathered) => _give!(facts, gathered);

    private void Write(NpgsqlBinaryImporter row, RecordedFact fact)
    {
        row.Id(fact.Id);
        row.Id(fact.InfantId);
        row.Id(fact.SiteId);
        row.Moment(fact.RecordedAt);
        row.Moment(fact.SupersededAt);
        row.Id(fact.SubmissionId.Value);
        row.Number(fact.RowNumber);
        var reported = (T)fact.Fact;
        foreach (var (_, write) in _written) write(row, reported);
    }

    private FactColumn<TValue> Own<TValue>(string name, Func<NpgsqlDataReader, int, TValue> read, Action<NpgsqlBinaryImporter, T> write)
    {
        _written.Add((name, write));
        return Add(name, false, read);
    }

    private FactColumn<TValue> Add<TValue>(string name, bool ofDetail, Func<NpgsqlDataReader, int, TValue> read)
    {
        var column = new FactColumn<TValue>(name, ofDetail, FirstOwn + _columns.Count, read);
        _columns.Add(column);
        return column;
    }
}
