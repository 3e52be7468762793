using Registry.Facts;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Rules.Linkage;

namespace Registry.Intake.Rows;

/// <summary>
/// Reads one row's text into a <see cref="ReportedRow"/>, or says what is wrong, every problem at once. Plain code:
/// most of what can be wrong is wrong before there is an object to validate (docs/decisions, validation).
/// </summary>
/// <param name="receivedOn">The local day the submission was received: nothing can have happened after it.</param>
/// <param name="sites">The region's sites by code.</param>
/// <param name="ofVitalRecords">The sender is a vital-records office: it says where each infant was born.</param>
public sealed class CheckRow(DateOnly receivedOn, IReadOnlyDictionary<string, Guid> sites, bool ofVitalRecords = false)
{
    private static readonly Field[] Who =
    [
        Field.Kind, Field.Action, Field.RecordNumber, Field.CardId, Field.BirthDate, Field.Sex, Field.BirthOrder,
        Field.MotherGivenName, Field.MotherFamilyName, Field.MotherBirthDate, Field.Problems,
    ];

    /// <summary>The columns a row of a kind may not state, by kind.</summary>
    private static readonly Field[][] Foreign =
        [.. Enum.GetValues<RowKind>().Select(k => Enum.GetValues<Field>().Except(Who).Except(FieldsOf(k)).ToArray())];

    private readonly List<Problem> _problems = [];

    /// <summary>The region's clock: a local time that it skips never was.</summary>
    public TimeZoneInfo Zone { get; init; } = TimeZoneInfo.Utc;

    /// <summary>The early-intervention programs: care does not pass there by a report, but by a hand-off with the family's consent
    /// (34 CFR 303.401).</summary>
    public IReadOnlySet<Guid> Programs { get; init; } = new HashSet<Guid>();

    /// <summary>The row, or null with its problems.</summary>
    public ReportedRow? Check(RowBatch batch, int row, out RowKind? kind, out IReadOnlyList<Problem> problems)
    {
        _problems.Clear();
        _problems.AddRange(batch.Problems(row));
        if (_problems.Count > 0 && batch.IsEmpty(row))
        {
            // Nothing of it could be read; what its reader says of it is all there is to say.
            (kind, problems) = (null, [.. _problems]);
            return null;
        }

        var read = new ReadFields(batch, row, receivedOn, Zone, _problems);
        kind = read.RequiredCode<RowKind>(Field.Kind);
        var result = kind is { } k ? Read(batch, row, read, k) : null;
        SayOnce(batch.Problems(row));
        problems = _problems.Count == 0 ? [] : [.. _problems.Distinct()];
        return result;
    }

    private ReportedRow? Read(RowBatch batch, int row, in ReadFields read, RowKind kind)
    {
        RefuseForeignFields(batch, row, kind);
        var who = ReadWho(read);
        var record = read.String(Field.RecordNumber, 64);
        var card = read.String(Field.CardId, 64);
        if (record is null && card is null && (who.BornOn is null || who.MotherFamily is null || who.Sex == Sex.Unknown))
            _problems.Add(new((string?)null,
                "says too little about who it is: state record_number or card_id, or birth_date, mother_family_name and sex"));

        var action = read.Code(Field.Action, RowAction.Report);
        var ofKind = KindOfRow.Of(kind);
        var fact = (action == RowAction.Retract ? ofKind.Retracted : ofKind.Fact)(read, who, sites);
        if (fact is not (null or ReportedBirth) && fact.On < who.BornOn && action != RowAction.Retract)
            _problems.Add(new(ofKind.Day, "is before birth_date"));
        if (fact is ReportedTransfer transfer && Programs.Contains(transfer.ToSiteId))
            _problems.Add(new(Field.ToSite, "is an early-intervention program: hand the infant off to it, with the family's consent"));
        var birthSite = BirthSite(read);
        if (fact is null || _problems.Count > 0) return null;
        return new()
        {
            BirthSiteId = birthSite,
            Kind = kind,
            Action = action,
            RecordNumber = record,
            CardId = card,
            OnlyIfUnknown = batch.OnlyIf(row),
            Identity = who,
            Fact = fact,
        };
    }

    private Identity ReadWho(in ReadFields read)
    {
        var who = new Identity(
            read.Date(Field.BirthDate),
            NormaliseName.Of(read.String(Field.MotherFamilyName, 100)),
            NormaliseName.Of(read.String(Field.MotherGivenName, 100)),
            read.Date(Field.MotherBirthDate),
            read.Code(Field.Sex, Sex.Unknown),
            read.Int(Field.Plurality, 1, 8),
            read.Int(Field.BirthOrder, 1, 8));
        if (who.BirthOrder > who.Plurality) _problems.Add(new(Field.BirthOrder, "is greater than plurality"));
        if (who.MotherBornOn >= who.BornOn) _problems.Add(new(Field.MotherBirthDate, "is not before birth_date"));
        return who;
    }

    /// <summary>A cell that could not be read needs no second word about it.</summary>
    private void SayOnce(IReadOnlyList<Problem> found)
    {
        if (found.Count == 0) return;
        var unread = found.Where(p => p.Field is not null).Select(p => p.Field).ToHashSet();
        _problems.RemoveAll(p => unread.Contains(p.Field) && !found.Contains(p));
    }

    /// <summary>The columns a kind may state besides who it is about.</summary>
    public static IEnumerable<Field> FieldsOf(RowKind kind) => KindOfRow.Of(kind).States;

    private Guid? BirthSite(in ReadFields read)
    {
        if (read.String(Field.BirthSite, 100) is not { } code) return null;
        if (!ofVitalRecords) _problems.Add(new(Field.BirthSite, "is stated by a vital-records office only: a site reports its own births"));
        else if (!sites.TryGetValue(code, out var site)) _problems.Add(new(Field.BirthSite, "is not the code of a site of this region"));
        else return site;
        return null;
    }

    private void RefuseForeignFields(RowBatch batch, int row, RowKind kind)
    {
        var foreign = Foreign[(int)kind];
        if (!batch.StatesAny(row, foreign)) return;
        foreach (var field in foreign)
            if (batch.IsStated(row, field)) _problems.Add(new(field, $"does not belong to a {Codes.Of(kind)} row"));
    }
}
