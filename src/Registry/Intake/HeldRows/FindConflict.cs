using System.Reflection;
using Npgsql;
using Registry.Facts;
using Registry.Intake.Rows;
using Registry.Platform;
using Registry.Records;
using Registry.Rules.Linkage;
using Registry.Ui;

namespace Registry.Intake.HeldRows;

/// <summary>One thing a fact says, as recorded and as sent.</summary>
public sealed record ConflictLine(string What, string Recorded, string Sent)
{
    public bool Differs => Recorded != Sent;
}

/// <summary>What is recorded, and a row that says something else of the same thing.</summary>
/// <param name="InfantId">The infant both are about.</param>
/// <param name="RecordedAt">When the registry knew what is recorded.</param>
/// <param name="Lines">What either says.</param>
/// <param name="MayBoth">Both may have happened: not of a birth or a death, of which there is one.</param>
public sealed record Conflict(InfantId InfantId, DateTimeOffset RecordedAt, IReadOnlyList<ConflictLine> Lines, bool MayBoth);

/// <summary>Finds what a held row contradicts, to be decided seeing both.</summary>
public sealed class FindConflict(NpgsqlDataSource source, ProgramClock clock)
{
    private const string NotStated = "not stated";

    /// <returns>Null when it contradicts nothing, or passes its checks no more.</returns>
    public async Task<Conflict?> OfAsync(WaitingRow row, CancellationToken ct)
    {
        if (row is not { Reason: HoldReason.ContradictsRecord, InfantId: { } infant }) return null;
        await using var connection = await source.OpenConnectionAsync(ct);
        var held = row.Content;
        if (held.ToApply(clock, await KnownSites.ReadAsync(connection, ct), clock.Now, out _)?.Row is not { } sent) return null;
        var recorded = await RecordedFacts.LoadAsync(connection, [infant.Value], new HashSet<RowKind> { sent.Kind }, ct);
        foreach (var fact in recorded.Of(infant.Value))
        {
            var verdict = CompareFacts.Compare(sent.Fact, fact.Fact, fact.SiteId == held.SiteId.Value, out _);
            // What another site's certificate says of a birth may agree and still be another site's to decide.
            if (verdict != FactVerdict.Contradicts && !(sent.Fact is ReportedBirth && fact.Fact is ReportedBirth)) continue;
            return new(infant, fact.RecordedAt, [.. Lines(fact.Fact, sent.Fact)], sent.Fact is not (ReportedBirth or ReportedDeath));
        }

        return null;
    }

    /// <summary>What either states, by the properties of its kind of fact. What a row leaves out it does not contradict.</summary>
    private static IEnumerable<ConflictLine> Lines(ReportedFact recorded, ReportedFact sent)
    {
        foreach (var property in recorded.GetType().GetProperties(BindingFlags.Public | BindingFlags.Instance | BindingFlags.DeclaredOnly))
        {
            if (property.Name is nameof(ReportedFact.On) or nameof(ReportedFact.Until) or nameof(ReportedFact.Code)) continue;
            var (was, says) = (Text(property.GetValue(recorded)), Text(property.GetValue(sent)));
            if (was != NotStated || says != NotStated) yield return new(HeldRowWords.OfProperty(property.Name), was, says);
        }
    }

    private static string Text(object? value) => value switch
    {
        null => NotStated,
        DateOnly day => Words.Date(day),
        DateTime at => Words.Moment(at),
        bool yes => yes ? "yes" : "no",
        Enum code => Words.Of(code),
        IFormattable number => number.ToString(null, System.Globalization.CultureInfo.InvariantCulture),
        _ => value.ToString() ?? NotStated,
    };
}
