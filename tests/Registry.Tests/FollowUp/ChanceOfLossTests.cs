using System.Globalization;
using System.Net;
using System.Text;
using Microsoft.Extensions.DependencyInjection;
using Registry.FollowUp.Chance;
using Registry.Infants.Statuses;
using Registry.Records;
using Registry.Rules;
using Registry.Tests.Intake;

namespace Registry.Tests.FollowUp;

/// <summary>The chance of loss from the registry's own past, from the facts to the work list. Today is 25 November 2026.</summary>
public sealed class ChanceOfLossTests(TestDatabase database)
{
    private const string Header =
        "kind,action,record_number,birth_date,birth_time,discharged_on,sex,mother_given_name,mother_family_name,mother_birth_date,language,race_ethnicity,insurance,"
            + "contact_phone,ear,outcome,method,performed_at,evaluated_on,right_finding,left_finding\n";

    [Fact]
    public async Task A_new_registry_says_that_its_history_is_too_short()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(Past(20));
        Assert.StartsWith("too little history", await FitAsync(bed), StringComparison.Ordinal);
        Assert.Equal(0, await bed.CountAsync("loss_histories"));
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        Assert.Contains("fewer than 100 infants lost to follow-up, or not lost", await coordinator.GetStringAsync("/reports/chance-of-loss", IntakeBed.Ct),
            StringComparison.Ordinal);
    }

    [Fact]
    public async Task Its_own_past_orders_the_calls_says_why_and_is_kept_with_how_it_came_true()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.DecidePolicyAsync(p => p with { ChanceOfLossDays = 30 });
        await bed.SendAsync(Past(700));
        // Two infants alike but for the phone; both are called today, the one with a phone first while nothing is known of the past.
        await bed.SendAsync(Header + Infant("N-1", new(2026, 9, 20), phone: true, came: false)
            + Infant("N-2", new(2026, 9, 21), phone: false, came: false));
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        Assert.Equal(["N-1", "N-2"], await CalledAsync(coordinator));

        Assert.StartsWith("version 1 of ", await FitAsync(bed), StringComparison.Ordinal);
        Assert.Equal(["N-2", "N-1"], await CalledAsync(coordinator));
        var list = WebUtility.HtmlDecode(await coordinator.GetStringAsync("/follow-up", IntakeBed.Ct));
        Assert.Matches("of 100 alike about \\d+ were lost to follow-up: [^(]*fewer than two phone numbers[^(]*\\(\\d+ days? forward\\)", list);

        // The page says how it came true, of how many, when, and by which rules.
        var page = WebUtility.HtmlDecode(await coordinator.GetStringAsync("/reports/chance-of-loss", IntakeBed.Ct));
        Assert.Contains("version 1", page, StringComparison.Ordinal);
        Assert.Contains("It is used", page, StringComparison.Ordinal);
        Assert.Contains("Area under the curve", page, StringComparison.Ordinal);
        Assert.Matches("Calibration intercept</dt><dd>-?\\d\\.\\d\\d \\(-?\\d\\.\\d\\d to -?\\d\\.\\d\\d\\)", page);
        // As many points as the table has groups, each with what it says.
        var table = page[page.IndexOf("Chance and what came of it", StringComparison.Ordinal)..];
        var rows = table[..table.IndexOf("</table>", StringComparison.Ordinal)].Split("<tr>").Length - 2;
        Assert.InRange(rows, 2, 10);
        Assert.Equal(rows, page.Split("<circle class=\"point\"").Length - 1);
        Assert.Matches("<desc id=\"calibration-says\">told \\d+\\.\\d %, lost to follow-up \\d+\\.\\d %", page);
        Assert.Matches("<h2>Does it come true for all alike\\?</h2>", page);
        Assert.Contains("Race and ethnicity", page, StringComparison.Ordinal);
        Assert.DoesNotContain("harbour", page, StringComparison.OrdinalIgnoreCase); // no site

        // Fitted again it is another version, and the first stays.
        Assert.StartsWith("version 2 of ", await FitAsync(bed), StringComparison.Ordinal);
        Assert.Equal(2, await bed.CountAsync("loss_histories"));
        await Assert.ThrowsAnyAsync<Exception>(() => bed.ListAsync("update loss_histories set holds = true returning 1"));

        // What the pages and jobs recompute one by one is what the fit put in order.
        var before = await bed.ListAsync("select infant_id || ' ' || rank || ' ' || reasons from infant_work order by 1");
        await RecomputeStatuses.ForAllAsync(bed.Source, bed.App.Today, Policy.Default with { Version = "2026-2", ChanceOfLossDays = 30 },
            IntakeBed.Ct);
        Assert.Equal(before, await bed.ListAsync("select infant_id || ' ' || rank || ' ' || reasons from infant_work order by 1"));
    }

    [Fact]
    public async Task Off_it_is_fitted_and_shown_and_touches_nothing()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(Past(700));
        var before = await bed.ListAsync("select infant_id || ' ' || rank || ' ' || reasons from infant_work order by 1");
        Assert.EndsWith("0 infants put in order anew", await FitAsync(bed), StringComparison.Ordinal);
        await RecomputeStatuses.ForAllAsync(bed.Source, bed.App.Today, Policy.Default, IntakeBed.Ct);
        Assert.Equal(before, await bed.ListAsync("select infant_id || ' ' || rank || ' ' || reasons from infant_work order by 1"));
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        Assert.Contains("The policy does not use it", await coordinator.GetStringAsync("/reports/chance-of-loss", IntakeBed.Ct),
            StringComparison.Ordinal);
    }

    [Fact]
    public async Task What_does_not_come_true_is_not_used_whatever_the_policy_asks()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.DecidePolicyAsync(p => p with { ChanceOfLossDays = 30 });
        await bed.SendAsync(Past(700));
        await FitAsync(bed);
        await bed.App.AsOwnerAsync("alter table loss_histories disable trigger all; update loss_histories set holds = false");
        await RecomputeStatuses.ForAllAsync(bed.Source, bed.App.Today, Policy.Default with { Version = "2026-2", ChanceOfLossDays = 30 },
            IntakeBed.Ct);
        Assert.Equal(0, await bed.CountAsync("infant_work where reasons::text like '%chance_of_loss%'"));
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        Assert.Contains("It is not used, although the policy asks for it",
            await coordinator.GetStringAsync("/reports/chance-of-loss", IntakeBed.Ct), StringComparison.Ordinal);
    }

    /// <summary>A family whose phone was recorded when it was found again had none before: the later birth must not tell of the day
    /// before.</summary>
    [Fact]
    public async Task What_was_corrected_later_does_not_tell_of_earlier_days()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(Header + Infant("C-1", new(2026, 1, 10), phone: false, came: false), at: Moment(new(2026, 1, 20)));
        await bed.SendAsync(Header + Infant("C-1", new(2026, 1, 10), phone: true, came: false, action: "correct").Split('\n')[0] + "\n",
            at: Moment(new(2026, 6, 1)));
        var id = Guid.Parse((await bed.ListAsync("select id from infants"))[0]);
        await using var connection = await bed.Source.OpenConnectionAsync(IntakeBed.Ct);
        var traits = await ReadLossTraits.OfAsync(connection, [id], IntakeBed.Ct);
        Assert.Equal(0, traits.On(id, new(2026, 1, 5))!.Phones); // as first recorded
        Assert.Equal(0, traits.On(id, new(2026, 5, 30))!.Phones);
        Assert.Equal(1, traits.On(id, new(2026, 6, 2))!.Phones);
    }

    /// <summary>Phones, language, interpreter, guardian and insurance as they were told of the family by the end of a day, also when they
    /// are of an earlier day, and until somebody takes them back: nothing learnt later is in a case of that day.</summary>
    [Fact]
    public async Task What_was_told_of_the_family_tells_from_the_day_it_was_recorded_and_not_before()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(Header + Infant("F-1", new(2026, 1, 10), phone: true, came: false), at: Moment(new(2026, 1, 20)));
        const string family = "kind,action,record_number,relation,contact_phone,other_phone,language,interpreter_needed,holds_custody,may_be_told,"
            + "stated_on,insurance\n";
        const string other = "family_contact,{0},F-1,mother,,555-7001,sv,yes,,,2026-01-12,\n";
        await bed.SendAsync(family + other.Replace("{0}", "", StringComparison.Ordinal) + "care,,F-1,,,,,,,,2026-01-12,Self-pay\n",
            at: Moment(new(2026, 3, 1)));
        await bed.SendAsync(family + "family_contact,,F-1,agency,555-7002,,,,yes,,2026-01-12,\n", at: Moment(new(2026, 4, 1)));
        await bed.SendAsync(family + other.Replace("{0}", "retract", StringComparison.Ordinal), at: Moment(new(2026, 5, 1)));
        var id = Guid.Parse((await bed.ListAsync("select id from infants"))[0]);
        await using var connection = await bed.Source.OpenConnectionAsync(IntakeBed.Ct);
        var traits = await ReadLossTraits.OfAsync(connection, [id], IntakeBed.Ct);
        string On(int month, int day) => traits.On(id, new(2026, month, day)) is { } t
            ? $"{t.Phones} {t.Language} {t.InterpreterNeeded} {t.HasGuardian} {t.Insurance}" : "";
        Assert.Equal("1 es  False Private", On(2, 28));
        Assert.Equal("2 sv True False Self-pay", On(3, 1));
        Assert.Equal("2 sv True False Self-pay", On(3, 31));
        Assert.Equal("1 es  True Self-pay", On(4, 1)); // only the agency may be called
        Assert.Equal("1 es  True Self-pay", On(5, 1));

        // The cases that are fitted are the same as if nothing had been told after them.
        var before = traits.On(id, new(2026, 2, 10))!;
        await bed.SendAsync(family + "family_contact,,F-1,father,555-7009,555-7010,da,yes,yes,yes,2026-01-11,\n", at: Moment(new(2026, 6, 1)));
        Assert.Equal(before, (await ReadLossTraits.OfAsync(connection, [id], IntakeBed.Ct)).On(id, new(2026, 2, 10)));
    }

    /// <summary>A site that does not see an infant is not told its chance: not by the list, the panel, the file or another site's
    /// name.</summary>
    [Fact]
    public async Task A_site_is_told_the_chance_of_its_own_infants_only()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.DecidePolicyAsync(p => p with { ChanceOfLossDays = 30 });
        await bed.SendAsync(Past(700));
        await bed.SendAsync(Header + Infant("N-2", new(2026, 9, 21), phone: false, came: false));
        var other = await bed.AddSiteAsync("elsewhere", SiteKind.Hospital);
        await FitAsync(bed);
        var infant = await WorkBed.IdAsync(bed, "N-2");
        Assert.Equal(1, await bed.CountAsync($"infant_work where infant_id = '{infant}' and reasons::text like '%chance_of_loss%'"));
        using var own = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Harbour);
        Assert.Contains("of 100 alike", await own.GetStringAsync($"/follow-up?infant={infant}", IntakeBed.Ct), StringComparison.Ordinal);
        using var stranger = await SignedIn.AsAsync(bed, Role.SiteManager, other);
        foreach (var attempt in new[]
        {
            "/follow-up", $"/follow-up?infant={infant}", "/follow-up?handler=csv", "/follow-up?site=harbour", $"/infants/{infant}",
            $"/follow-up?tray=search_again&infant={infant}", "/reports/chance-of-loss?site=harbour",
        })
        {
            using var answer = await stranger.GetAsync(attempt, IntakeBed.Ct);
            var text = SignedIn.Plain(await answer.Content.ReadAsStringAsync(IntakeBed.Ct));
            Assert.DoesNotContain("of 100 alike", text, StringComparison.Ordinal);
            Assert.DoesNotContain("N-2", text, StringComparison.Ordinal);
        }
    }

    private static Task<string> FitAsync(IntakeBed bed) => bed.App.Services.GetRequiredService<FitChanceOfLoss>().RunAsync(IntakeBed.Ct);

    private static async Task<string[]> CalledAsync(HttpClient client) =>
        [.. (await WorkBed.ShownAsync(client)).Select(n => n[(n.LastIndexOf(' ') + 1)..])
            .Where(n => n.StartsWith("N-", StringComparison.Ordinal))];

    private static DateTimeOffset Moment(DateOnly day) => new(day.ToDateTime(new(12, 0)), TimeSpan.Zero);

    /// <summary>Referred infants of two years: of those without a phone most were lost, of the others one in six.</summary>
    private static string Past(int infants)
    {
        var rows = new StringBuilder(Header);
        for (var i = 0; i < infants; i++)
        {
            var phone = i % 3 > 0;
            rows.Append(Infant($"P-{i}", new DateOnly(2024, 1, 10).AddDays(i), phone, came: phone ? i % 7 > 0 : i % 5 == 0));
        }

        return rows.ToString();
    }

    private static string Infant(string number, DateOnly born, bool phone, bool came, string action = "")
    {
        string Day(int days) => born.AddDays(days).ToString("yyyy-MM-dd", CultureInfo.InvariantCulture);
        var i = int.Parse(number[2..], CultureInfo.InvariantCulture);
        var mother = new DateOnly(1980, 1, 1).AddDays(11 * i).ToString("yyyy-MM-dd", CultureInfo.InvariantCulture);
        var tests = string.Concat(new[] { 1, 14 }.SelectMany(day => new[] { "right", "left" }.Select(ear =>
            $"screening,,{number},,,,,,,,,,,,{ear},{(ear == "right" ? "refer" : "pass")},aabr,{Day(day)}T{(ear == "right" ? "10:00" : "10:05")},,,\n")));
        return $"birth,{action},{number},{Day(0)},08:00,{Day(2)},female,Ada,{number},{mother},{(i % 2 == 0 ? "en" : "es")},"
            + $"{(i % 4 == 0 ? "A" : "B")},{(i % 2 == 0 ? "Public" : "Private")},{(phone ? $"555-{1000 + i}" : "")},,,,,,,\n" + tests
            + (came ? $"diagnosis,,{number},,,,,,,,,,,,,,,,{Day(50 + i % 20)},normal,normal\n" : "");
    }
}
