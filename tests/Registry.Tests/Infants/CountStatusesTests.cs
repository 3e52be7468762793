using System.Globalization;
using System.Net;
using Microsoft.Extensions.DependencyInjection;
using Registry.Access;
using Registry.Infants.List;
using Registry.Infants.Statuses;
using Registry.Records;
using Registry.Rules;
using Registry.SiteQuality;
using Registry.Tests.Intake;

namespace Registry.Tests.Infants;

/// <summary>
/// Kept counts of statuses say what the statuses themselves say, whether they were counted since the last change or not, as days pass, and
/// when several count at once; and what a table of sites says of the infants born there is a list of as many.
/// </summary>
public sealed class CountStatusesTests(TestDatabase database)
{
    private static readonly StatusFigure[] All = Enum.GetValues<StatusFigure>();

    /// <summary>Written anew, beside the program's: deadlines by the day asked about, steps that do not arise left out.</summary>
    private const string FromStatuses =
        """
        with s as (select *, date_trunc('month', born_on)::date as m from infant_status)
        select concat_ws(' ', site, month, counted, state, closed, count(*)) from (
          select birth_site_id as site, m as month, 'screened' as counted, screened_state as state,
                 screened_deadline_on < $1 as closed from s
          union all select birth_site_id, m, 'diagnosed', diagnosed_state, diagnosed_deadline_on < $1
            from s where diagnosed_state <> 'not_required'
          union all select birth_site_id, m, 'enrolled', enrolled_state, enrolled_deadline_on < $1
            from s where enrolled_state <> 'not_required'
          union all select birth_site_id, m, 'due', 'overdue', false from s where next_due_on < $1
          union all select birth_site_id, m, 'due', 'week', false
            from s where next_due_on between $1 and $1 + 7
          union all select birth_site_id, m, 'lost_how', loss, false from s where loss <> 'none'
          union all select birth_site_id, m, 'lost_at', lost_at, false from s where loss <> 'none'
        ) x group by site, month, counted, state, closed
        """;

    [Fact]
    public async Task Counts_are_what_the_statuses_say_before_and_after_they_are_counted_and_as_days_pass()
    {
        await using var bed = await IntakeBed.StartWithRegionAsync(database);
        var (today, keep) = (bed.App.Today, bed.App.Services.GetRequiredService<KeepStatusesCurrent>());
        await AgreeAsync(bed, today);
        Assert.NotEqual("0 days of births at sites counted anew", await keep.CountAsync(IntakeBed.Ct));
        await AgreeAsync(bed, today);
        Assert.StartsWith("0 days", await keep.CountAsync(IntakeBed.Ct), StringComparison.Ordinal);

        // A birth, which is one more day; then one that moves to another day.
        await bed.SendAsync($"action,kind,record_number,birth_date,sex\n,birth,Z1,{today.AddDays(-3):yyyy-MM-dd},female\n");
        await AgreeAsync(bed, today);
        Assert.StartsWith("1 days", await keep.CountAsync(IntakeBed.Ct), StringComparison.Ordinal);
        await bed.SendAsync($"action,kind,record_number,birth_date,sex\ncorrect,birth,Z1,{today.AddDays(-400):yyyy-MM-dd},female\n");
        await AgreeAsync(bed, today);

        // Nothing is written for weeks: deadlines pass, steps become due.
        foreach (var later in new[] { 0, 1, 6, 30, 100 })
        {
            await AgreeAsync(bed, today.AddDays(later));
            await Task.WhenAll(CountAsync(bed, today.AddDays(later)), CountAsync(bed, today.AddDays(later)));
            await AgreeAsync(bed, today.AddDays(later));
        }
    }

    [Fact]
    public async Task Infants_missed_and_refers_lost_of_a_site_open_as_many_infants()
    {
        await using var bed = await IntakeBed.StartWithRegionAsync(database);
        var viewer = Viewer.Nobody with { Role = Role.Coordinator };
        var busiest = "";
        var (list, source) = (bed.App.Services.GetRequiredService<ListInfants>(), bed.App.Services.GetRequiredService<StatusSource>());
        foreach (var day in new[] { bed.App.Today.AddDays(-40), bed.App.Today })
        {
            var born = new Period(day.AddYears(-1).AddDays(1), day);
            var statuses = await source.AsOfAsync(day, IntakeBed.Ct);
            var (sites, region) = await bed.App.Services.GetRequiredService<ReadBirths>().RunAsync(born, day, IntakeBed.Ct);
            await using var db = bed.App.OpenDb();
            Assert.True(sites.Count > 2);
            Assert.True(region!.Missed.Numerator > 0 && region.Lost.Numerator > 0, "Nobody is missed or lost: this shows little.");
            busiest = (await db.Sites.FindAsync([sites.MaxBy(s => s.Value.Missed.Denominator).Key], IntakeBed.Ct))!.Code;
            foreach (var (site, figures) in sites)
            {
                var code = (await db.Sites.FindAsync([site], IntakeBed.Ct))!.Code;
                var asked = new InfantFilter { Site = code, From = born.From, To = born.To };
                Assert.Equal(figures.Missed.Numerator, await list.CountAsync(statuses, asked with
                {
                    Milestone = MilestoneKind.Screened,
                    Closed = true,
                    States = [MilestoneState.Late, MilestoneState.Missed],
                }, viewer, null, IntakeBed.Ct));
                Assert.Equal(figures.Lost.Numerator, await list.CountAsync(
                    statuses, asked with { Loss = "any", LostAt = Registry.Rules.Facts.PathStep.Diagnosis }, viewer, null, IntakeBed.Ct));
            }
        }

        // The pages say so, each number with its list; units have no births.
        using var client = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        foreach (var page in new[] { "/sites?by=site", $"/sites/{busiest}", $"/sites/{busiest}/report" })
            Assert.Contains("milestone=screened&closed=true&state=late&state=missed",
                WebUtility.HtmlDecode(await client.GetStringAsync(page, IntakeBed.Ct)), StringComparison.Ordinal);
        Assert.DoesNotContain("state=missed", await client.GetStringAsync("/sites?by=probe", IntakeBed.Ct), StringComparison.Ordinal);
    }

    private static async Task CountAsync(IntakeBed bed, DateOnly today)
    {
        await using var connection = await bed.Source.OpenConnectionAsync(IntakeBed.Ct);
        await using var transaction = await connection.BeginTransactionAsync(IntakeBed.Ct);
        await CountStatuses.RunAsync(connection, today, IntakeBed.Ct);
        await transaction.CommitAsync(IntakeBed.Ct);
    }

    private static async Task AgreeAsync(IntakeBed bed, DateOnly today)
    {
        var read = bed.App.Services.GetRequiredService<ReadStatusCounts>();
        await using var command = read.Command(
            new("infant_status", today, bed.Now, ""), All, (null, null), null, "site_id || ' ' || date_trunc('month', born_on)::date");
        await using var r = await command.ExecuteReaderAsync(IntakeBed.Ct);
        var kept = new List<string>();
        while (await r.ReadAsync(IntakeBed.Ct))
            kept.Add(string.Create(CultureInfo.InvariantCulture,
                $"{r.GetString(0)} {r.GetString(1)} {r.GetString(2)} {(r.GetBoolean(3) ? "t" : "f")} {r.GetInt64(4)}"));
        var said = await bed.ListAsync(FromStatuses, today);
        Assert.True(said.Count > 20, $"{said.Count} counts show little.");
        Assert.Equal(said.Order(StringComparer.Ordinal), kept.Order(StringComparer.Ordinal));
    }
}
