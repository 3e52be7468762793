using System.Globalization;
using System.Text;
using Npgsql;
using Registry.Facts;
using Registry.Infants.Record;
using Registry.Outreach;
using Registry.Platform.Data;
using Registry.Platform.Encryption;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Tests.Intake;

namespace Registry.Tests.Outreach;

/// <summary>
/// Who may be told stands in memory (<see cref="FamilyNow"/>) and in the database (<c>MayWrite.sql</c>). Over thousands of statements, sent
/// as files and some taken back, both agree with a third that is written from the rule's words (docs/decisions, "A family is what was said
/// of it") and looks at every statement for every question.
/// </summary>
public sealed class WhoMayBeToldTests(TestDatabase database)
{
    private const int Infants = 1_500;
    private const string Family =
        "action,kind,record_number,relation,person_name,contact_email,stated_on,holds_custody,may_be_told\n";

    private static readonly FamilyRelation[] Decide =
        [FamilyRelation.Guardian, FamilyRelation.FosterParent, FamilyRelation.Agency];

    /// <summary>A statement that stands, as the table has it.</summary>
    private sealed record Said(
        FamilyRelation Kind, DateOnly On, DateTimeOffset At, int Row, string? Email, bool? Custody, bool? Told);

    [Fact]
    public async Task Record_letters_and_the_written_rule_agree_on_who_is_told_and_where()
    {
        await using var bed = await RemindersTests.StartAsync(database);
        var dice = new Random(20261129);
        var births = BirthRows(dice);
        await bed.SendAsync(births.All, at: bed.Now.AddDays(-9));
        var files = Enumerable.Range(0, 4).Select(_ => Statements(dice)).ToList();
        for (var i = 0; i < files.Count; i++) await bed.SendAsync(Family + files[i], at: bed.Now.AddDays(i - 8));
        await bed.SendAsync(births.Withdrawn, at: bed.Now.AddDays(-3));
        await bed.SendAsync(Family + Retracted(dice, files), at: bed.Now.AddDays(-2));

        var consents = await ConsentsAsync(bed);
        var said = await SaidAsync(bed);
        Assert.Equal(Infants, consents.Count);
        Assert.InRange(said.Values.Sum(s => s.Count), 3_000, 12_000);
        Assert.NotEqual(0, await bed.CountAsync("family_contacts where superseded_at is not null"));

        await using var connection = await bed.Source.OpenConnectionAsync(IntakeBed.Ct);
        var families = await ReadFamilyNow.OfAsync(connection, [.. consents.Keys], IntakeBed.Ct);
        var letters = await LettersAsync(connection, bed.App.Today);
        var outcomes = new Dictionary<string, int>();
        foreach (var (infant, (email, consent)) in consents)
        {
            var statements = said.GetValueOrDefault(infant, []);
            var (may, address) = Rule(statements, email);
            var family = families[infant];
            var told = $"{infant}: {string.Join("; ", statements)}";
            Assert.True(may == family.MotherMayBeWrittenTo, told);
            Assert.True(address == family.Mother?.Email, told);
            var to = may && consent ? address : null;
            Assert.True(to == letters.GetValueOrDefault(infant), $"{to} or {letters.GetValueOrDefault(infant)}: {told}");
            var outcome = !consent ? "no consent" : !may ? "may not" : to is null ? "no address" : to == email ? "birth's" : "newer";
            outcomes[outcome] = outcomes.GetValueOrDefault(outcome) + 1;
        }

        // Each way of ending was met often.
        Assert.Equal(["birth's", "may not", "newer", "no address", "no consent"], outcomes.Keys.Order(StringComparer.Ordinal));
        Assert.All(outcomes.Values, n => Assert.InRange(n, 20, Infants));
    }

    /// <summary>The rule in words. Of each thing the newest statement that says it holds: by the day it is of, then by when it was
    /// recorded, then by its row. What the birth says of the mother is the oldest. Where it was said whether she may be told, that holds.
    /// Else she may where she holds custody herself, or nobody but a parent does.</summary>
    private static (bool May, string? Address) Rule(IReadOnlyList<Said> said, string? ofBirth)
    {
        var told = Newest(FamilyRelation.Mother, s => s.Told);
        var decides = Newest(FamilyRelation.Mother, s => s.Custody) == true;
        var guarded = Decide.Any(kind => Newest(kind, s => s.Custody) == true);
        string? address = null;
        Said? last = null;
        foreach (var s in said)
            if (s is { Kind: FamilyRelation.Mother, Email: not null } && (last is null || IsLater(s, last))) (last, address) = (s, s.Email);
        return (told ?? (decides || !guarded), address ?? ofBirth);

        bool? Newest(FamilyRelation kind, Func<Said, bool?> of)
        {
            Said? newest = null;
            foreach (var s in said)
                if (s.Kind == kind && of(s) is not null && (newest is null || IsLater(s, newest))) newest = s;
            return newest is null ? null : of(newest);
        }

        static bool IsLater(Said one, Said than) =>
            one.On != than.On ? one.On > than.On : one.At != than.At ? one.At > than.At : one.Row > than.Row;
    }

    private static (string All, string Withdrawn) BirthRows(Random dice)
    {
        const string Head = "kind,record_number,birth_date,sex,contact_email,email_consent\n";
        var (all, withdrawn) = (new StringBuilder(Head), new StringBuilder(Head));
        for (var i = 0; i < Infants; i++)
        {
            var day = new DateOnly(2026, 10, 1).AddDays(i % 24).ToString("yyyy-MM-dd", CultureInfo.InvariantCulture);
            var email = dice.Next(4) == 0 ? "" : $"birth{i}@family.example";
            var consent = dice.Next(5) != 0;
            all.Append(CultureInfo.InvariantCulture, $"birth,N{i},{day},female,{email},{(consent ? "true" : "false")}\n");
            if (consent && dice.Next(10) == 0) withdrawn.Append(CultureInfo.InvariantCulture, $"birth,N{i},{day},female,{email},false\n");
        }

        return (all.ToString(), withdrawn.ToString());
    }

    private static string Statements(Random dice)
    {
        var rows = new StringBuilder();
        for (var n = 0; n < Infants * 3 / 2; n++)
        {
            var relation = dice.Next(2) == 0 ? FamilyRelation.Mother : dice.GetItems(Enum.GetValues<FamilyRelation>(), 1)[0];
            var mayHold = relation != FamilyRelation.Self && !ReportedFamilyContact.MayBeSeveral(relation);
            rows.Append(CultureInfo.InvariantCulture, $"report,family_contact,N{dice.Next(Infants)},{Codes.Of(relation)},")
                .Append(One(dice, "Nora Berg", "Ada Marlow")).Append(',')
                .Append(dice.Next(3) == 0 ? $"said{dice.Next(100_000)}@family.example" : "").Append(',')
                .Append(One(dice, "2026-11-01", "2026-11-02", "2026-11-17", "2026-11-20")).Append(',')
                .Append(mayHold ? One(dice, "yes", "no") : "").Append(',')
                .Append(One(dice, "yes", "no")).Append('\n');
        }

        return rows.ToString();

        static string One(Random dice, params string[] some) => dice.Next(2) == 0 ? "" : some[dice.Next(some.Length)];
    }

    private static string Retracted(Random dice, IEnumerable<string> files) => string.Concat(files
        .SelectMany(f => f.Split('\n', StringSplitOptions.RemoveEmptyEntries)).Where(_ => dice.Next(8) == 0)
        .Select(row => row.Replace("report,", "retract,", StringComparison.Ordinal) + "\n"));

    private static async Task<Dictionary<InfantId, (string? Email, bool Consent)>> ConsentsAsync(IntakeBed bed)
    {
        await using var command = bed.Source.CreateCommand(
            "select infant_id, contact_email, email_consent from births where superseded_at is null");
        await using var r = await command.ExecuteReaderAsync(IntakeBed.Ct);
        var found = new Dictionary<InfantId, (string?, bool)>();
        while (await r.ReadAsync(IntakeBed.Ct))
            found[new(r.GetGuid(0))] = (FieldKeys.OfProcess.Decrypt(r.TextOrNull(1), "births.contact_email"), r.GetBoolean(2));
        return found;
    }

    private static async Task<Dictionary<InfantId, List<Said>>> SaidAsync(IntakeBed bed)
    {
        await using var command = bed.Source.CreateCommand(
            "select infant_id, kind, stated_on, recorded_at, row_number, contact_email, holds_custody, may_be_told "
                + "from family_contacts where superseded_at is null");
        await using var r = await command.ExecuteReaderAsync(IntakeBed.Ct);
        var found = new Dictionary<InfantId, List<Said>>();
        while (await r.ReadAsync(IntakeBed.Ct))
        {
            var at = r.Moment(3);
            var said = new Said(r.Code<FamilyRelation>(1), r.ValueOrNull<DateOnly>(2) ?? DateOnly.FromDateTime(at.UtcDateTime), at,
                r.GetInt32(4), FieldKeys.OfProcess.Decrypt(r.TextOrNull(5), "family_contacts.contact_email"), r.ValueOrNull<bool>(6),
                r.ValueOrNull<bool>(7));
            if (found.TryGetValue(new(r.GetGuid(0)), out var all)) all.Add(said);
            else found[new(r.GetGuid(0))] = [said];
        }

        return found;
    }

    private static async Task<Dictionary<InfantId, string>> LettersAsync(NpgsqlConnection connection, DateOnly today)
    {
        await using var command = new NpgsqlCommand($"select infant_id, email, kept_in from ({MayWrite.Sql}) w", connection);
        command.Parameters.AddWithValue("today", today);
        await using var r = await command.ExecuteReaderAsync(IntakeBed.Ct);
        var found = new Dictionary<InfantId, string>();
        while (await r.ReadAsync(IntakeBed.Ct))
            found[new(r.GetGuid(0))] = FieldKeys.OfProcess.Decrypt(r.GetString(1), r.GetString(2))!;
        return found;
    }
}
