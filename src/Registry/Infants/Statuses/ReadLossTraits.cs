using Npgsql;
using Registry.Facts;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Platform.Encryption;
using Registry.Rules.Chance;
using Registry.Rules.Facts;

namespace Registry.Infants.Statuses;

/// <summary>What was recorded at the births of some infants, and told of their families since, and may go with being lost: as it was known
/// on a day. What the family is then is <see cref="FamilyNow"/>'s to say.</summary>
public sealed class ReadLossTraits
{
    private static readonly string Sql = EmbeddedSql.Read(typeof(ReadLossTraits), "LossTraits");

    /// <summary>A birth as it was recorded. Its telephone is a key.</summary>
    private sealed record Version(
        DateOnly Since, string Site, string? SiteCounty, string? County, string? Language, string? Insurance, string? Phone, string? Race);

    /// <param name="Until">The day it was closed; null: it stands.</param>
    private sealed record Told(ReportedFact Fact, DateTimeOffset At, DateOnly? Until);

    private readonly Dictionary<Guid, List<Version>> _births = [];
    private readonly Dictionary<Guid, List<Told>> _told = [];

    private ReadLossTraits()
    {
    }

    public static async Task<ReadLossTraits> OfAsync(NpgsqlConnection connection, Guid[] infants, CancellationToken ct)
    {
        var read = new ReadLossTraits();
        await using var command = new NpgsqlCommand(Sql, connection);
        command.Parameters.AddWithValue("infants", infants);
        await using var r = await command.ExecuteReaderAsync(ct);
        while (await r.ReadAsync(ct))
            Add(read._births, r, new(DayOf(r.Moment(1)), r.GetString(2), r.TextOrNull(3), r.TextOrNull(4), r.TextOrNull(5), r.TextOrNull(6),
                r.TextOrNull(7), r.TextOrNull(8)));
        await r.NextResultAsync(ct);
        while (await r.ReadAsync(ct)) Add(read._told, r, Of(r, Contact(r)));
        await r.NextResultAsync(ct);
        while (await r.ReadAsync(ct))
            Add(read._told, r, Of(r, new ReportedCare(r.ValueOrNull<DateOnly>(3)) { Insurance = r.GetString(4) }));
        return read;
    }

    /// <summary>As known at the end of a day. A birth that was not recorded yet counts as it was recorded first: what was corrected later,
    /// by a family that was found again, must not tell of the days before; nor does what was told of the family later.</summary>
    /// <returns>Null for an infant without a birth.</returns>
    public LossTraits? On(Guid infant, DateOnly day)
    {
        if (!_births.TryGetValue(infant, out var versions)) return null;
        var birth = versions.FindLast(v => v.Since <= day) ?? versions[0];
        var stated = new ReportedBirth(default, Sex.Unknown)
        {
            ContactPhone = birth.Phone,
            Language = birth.Language,
            Insurance = birth.Insurance,
        };
        var family = FamilyNow.Of(
        [
            (stated, default),
            .. _told.GetValueOrDefault(infant, []).Where(t => DayOf(t.At) <= day && !(t.Until <= day)).Select(t => (t.Fact, t.At)),
        ]);
        var called = family.BestToCall ?? family.ToCall.FirstOrDefault();
        return new(birth.Site, birth.SiteCounty, birth.County, called?.Language ?? birth.Language, family.Care.Insurance,
            family.ToCall.SelectMany(p => new[] { p.Phone, p.OtherPhone }).OfType<string>().Distinct().Count())
        {
            InterpreterNeeded = called?.InterpreterNeeded,
            HasGuardian = family.Guardians.Any(),
            RaceEthnicity = birth.Race,
        };
    }

    private static ReportedFamilyContact Contact(NpgsqlDataReader r) => new(r.Code<FamilyRelation>(4), r.ValueOrNull<DateOnly>(3))
    {
        Name = FieldKeys.OfProcess.Decrypt(r.TextOrNull(5), "family_contacts.person_name"),
        Phone = r.TextOrNull(6),
        OtherPhone = r.TextOrNull(7),
        Language = r.TextOrNull(8),
        InterpreterNeeded = r.ValueOrNull<bool>(9),
        HoldsCustody = r.ValueOrNull<bool>(10),
        MayBeTold = r.ValueOrNull<bool>(11),
    };

    private static Told Of(NpgsqlDataReader r, ReportedFact fact) =>
        new(fact, r.Moment(1), r.ValueOrNull<DateTimeOffset>(2) is { } closed ? DayOf(closed) : null);

    private static void Add<T>(Dictionary<Guid, List<T>> to, NpgsqlDataReader r, T one)
    {
        if (!to.TryGetValue(r.GetGuid(0), out var list)) to[r.GetGuid(0)] = list = [];
        list.Add(one);
    }

    private static DateOnly DayOf(DateTimeOffset moment) => DateOnly.FromDateTime(moment.UtcDateTime);
}
