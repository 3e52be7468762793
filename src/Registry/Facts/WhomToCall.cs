using System.Text.Json;
using Registry.Platform;
using Registry.Platform.Encryption;
using Registry.Rules.Facts;

namespace Registry.Facts;

/// <summary>The one telephone a list shows of an infant: of whoever <see cref="FamilyNow"/> says is called first.</summary>
/// <param name="Phone">Null: nobody who may be called is known to have one.</param>
/// <param name="Language">Of whoever is called; else as the birth states it.</param>
public sealed record WhomToCall(string? Phone, string? Language)
{
    private static readonly string Sql = EmbeddedSql.Of<WhomToCall>();

    /// <summary>A statement's from-clause that gives <c>family.said</c>.</summary>
    /// <param name="infant">SQL of the infant's id; never what somebody typed.</param>
    public static string Join(string infant) => Sql.Replace("{infant}", infant, StringComparison.Ordinal);

    /// <param name="phone">Of the birth, as stored.</param>
    /// <param name="language">Of the birth.</param>
    /// <param name="said"><c>family.said</c>.</param>
    public static WhomToCall Of(string? phone, string? language, string? said)
    {
        var ofBirth = FieldKeys.OfProcess.Decrypt(phone, "births.contact_phone");
        if (said is null) return new(ofBirth, language);
        var birth = new ReportedBirth(default, Sex.Unknown) { ContactPhone = ofBirth, Language = language };
        var family = FamilyNow.Of([(birth, default), .. JsonDocument.Parse(said).RootElement.EnumerateArray().Select(Statement)]);
        return new(family.BestToCall?.Phone, family.BestToCall?.Language ?? language);
    }

    private static (ReportedFact, DateTimeOffset) Statement(JsonElement said) => (
        new ReportedFamilyContact(
            Codes.Parse<FamilyRelation>(Text(said, "kind")), Text(said, "on") is { } on ? DateOnly.Parse(on, null) : null)
        {
            Name = FieldKeys.OfProcess.Decrypt(Text(said, "name"), "family_contacts.person_name"),
            Phone = FieldKeys.OfProcess.Decrypt(Text(said, "phone"), "family_contacts.contact_phone"),
            Language = Text(said, "language"),
            HoldsCustody = Truth(said, "custody"),
            MayBeTold = Truth(said, "told"),
        },
        said.GetProperty("at").GetDateTimeOffset());

    private static string? Text(JsonElement said, string name) => said.GetProperty(name).GetString();

    private static bool? Truth(JsonElement said, string name) =>
        said.GetProperty(name) is { ValueKind: JsonValueKind.True or JsonValueKind.False } value ? value.GetBoolean() : null;
}
