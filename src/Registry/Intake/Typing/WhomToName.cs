using System.Globalization;
using Registry.Infants.Record;
using Registry.Intake.Rows;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Intake.Typing;

/// <summary>The columns that say who a typed row is about, as the record knows it: the site's own number, else a card, and the birth.
/// </summary>
public static class WhomToName
{
    public static IEnumerable<KeyValuePair<Field, string>> Of(OpenedRecord? record, SiteId site)
    {
        if (record is null) yield break;
        var numbers = record.TimeLine.Where(e => e.SupersededAt is null).Select(e => e.Identifier).OfType<InfantIdentifier>().ToList();
        var own = numbers.Find(n => n.SiteId == site && n.Kind == IdentifierKind.RecordNumber);
        if (own is not null) yield return new(Field.RecordNumber, own.Value);
        else if (numbers.Find(n => n.Kind == IdentifierKind.CardId) is { } card) yield return new(Field.CardId, card.Value);
        if (record.Birth is not { } birth) yield break;
        yield return new(Field.BirthDate, Day(birth.BornOn));
        if (birth.Sex != Sex.Unknown) yield return new(Field.Sex, Codes.Of(birth.Sex));
        if (birth.MotherGivenName is { } given) yield return new(Field.MotherGivenName, given);
        if (birth.MotherFamilyName is { } family) yield return new(Field.MotherFamilyName, family);
        if (birth.MotherBornOn is { } born) yield return new(Field.MotherBirthDate, Day(born));
        if (birth.BirthOrder is { } order) yield return new(Field.BirthOrder, order.ToString(CultureInfo.InvariantCulture));
    }

    public static string Day(DateOnly day) => day.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture);
}
