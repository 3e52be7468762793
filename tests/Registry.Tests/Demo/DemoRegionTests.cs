using System.Security.Cryptography;
using System.Text;
using System.Text.RegularExpressions;
using Registry.Demo;
using Registry.Intake.Formats;
using Registry.Intake.Rows;
using Registry.Tests.Reporting.Measures;

namespace Registry.Tests.Demo;

/// <summary>What must hold of the generated files whatever they tell.</summary>
public sealed partial class DemoRegionTests
{
    /// <summary>A pinned fingerprint: another runtime, machine or library must not change a byte. A change of the generator does, and sets
    /// it anew.</summary>
    private const string SmallSha256 = "ffd5af4664322413d7d2e12a390dddf39551951c2825fb15c1c42d0e99d6a4e6";

    [Fact]
    public void The_same_anchor_and_seed_give_the_same_bytes_on_every_machine()
    {
        var made = Fingerprint(DemoRegion.Small(ReadRegion.Anchor));
        Assert.True(made == SmallSha256, $"The small region's fingerprint is {made}.");
        Assert.Equal(made, Fingerprint(DemoRegion.Small(ReadRegion.Anchor)));
    }

    [Fact]
    public void Another_seed_or_anchor_gives_another_region()
    {
        var small = DemoRegion.Small(ReadRegion.Anchor);
        Assert.NotEqual(SmallSha256, Fingerprint(small with { Seed = 7 }));
        Assert.NotEqual(SmallSha256, Fingerprint(small with { Anchor = small.Anchor.AddDays(1) }));
    }

    [Fact]
    public void Files_come_in_the_order_of_receipt_from_known_places_once_a_day_at_most()
    {
        var files = new DemoRegion(ReadRegion.Anchor).Submissions().ToList();
        Assert.InRange(files.Count, 1_000, 1_500);
        Assert.InRange(files.Sum(f => f.Rows), 70_000, 90_000);
        Assert.Equal(files.OrderBy(f => f.ReceivedAt), files);
        Assert.Equal(files.Count, files.Select(f => f.FileName).Distinct().Count());
        Assert.Subset(Places.All.Select(p => p.Code).ToHashSet(), files.Select(f => f.SiteCode).ToHashSet());
        Assert.True(files[^1].ReceivedAt.UtcDateTime < ReadRegion.Anchor.AddDays(1).ToDateTime(TimeOnly.MinValue));
    }

    [Fact]
    public void All_24_birthing_sites_and_6_counties_have_births()
    {
        var births = ReadRegion.AllRows.Where(r => r.Kind == "birth").ToList();
        Assert.Equal(24, births.Select(r => r.Site).Distinct().Count());
        Assert.Equal(6, births.Select(r => r["county"]).Distinct().Count());
    }

    [Fact]
    public void Only_what_had_happened_is_in_a_file_apart_from_mistakes()
    {
        string[] dates =
        [
            "birth_date", "discharged_on", "nicu_admitted_on", "nicu_discharged_on", "performed_at", "evaluated_on", "happened_on",
            "attempted_on", "moved_on",
            "died_on", "refused_on", "transferred_on", "noted_on", "admitted_on",
        ];
        var future = ReadRegion.AllRows.Where(r => dates.Any(d => r[d] is not null && DateOnly.FromDateTime(r.At(d)) > r.SentOn)).ToList();
        Assert.All(future, r => Assert.True(r.Kind == "screening" && r.SentOn > ReadRegion.Anchor.AddDays(-90), r.File.FileName));
        Assert.InRange(future.Count, 1, 30);
    }

    [Theory]
    [InlineData(300, "2026-11-25")]
    [InlineData(1_000, "2024-02-29")]
    [InlineData(60_000, "2026-11-25")]
    public void As_many_infants_are_born_as_asked_for(int births, string anchor)
    {
        var day = DateOnly.Parse(anchor, System.Globalization.CultureInfo.InvariantCulture);
        var infants = ReadRegion.Infants(ReadRegion.Rows(new DemoRegion(day, births)));
        // The youngest are not reported yet.
        Assert.InRange(infants.Count, births * .96 - 3, births);
        Assert.True(infants.Max(i => i.BornAt) < day.ToDateTime(TimeOnly.MinValue));
    }

    [Fact]
    public async Task Every_row_is_valid_by_the_rules_of_the_intake_except_the_arranged_mistakes()
    {
        var sites = Places.All.ToDictionary(p => p.Code, _ => Guid.NewGuid());
        var batch = new RowBatch(512);
        var mistakes = 0;
        foreach (var file in new DemoRegion(ReadRegion.Anchor).Submissions())
        {
            var sent = DateOnly.FromDateTime(file.ReceivedAt.UtcDateTime);
            var check = new CheckRow(sent, sites);
            var rows = 0;
            using var reader = await OpenRows.ToReadAsync(
                new FileReading(file.Format, null), new MemoryStream(file.Content), TimeZoneInfo.Utc, null!,
                TestContext.Current.CancellationToken);
            while (await reader.FillAsync(batch, TestContext.Current.CancellationToken))
            {
                for (var i = 0; i < batch.Count; i++, rows++)
                {
                    if (check.Check(batch, i, out _, out var problems) is not null) continue;
                    var problem = Assert.Single(problems);
                    Assert.Contains(problem.Field, new[] { "outcome", "performed_at" });
                    Assert.True(sent > ReadRegion.Anchor.AddDays(-90), $"{file.FileName}: {problem.Field} {problem.Reason}");
                    mistakes++;
                }
            }

            Assert.Equal(file.Rows, rows);
        }

        Assert.InRange(mistakes, 10, 60);
    }

    [Fact]
    public void Addresses_and_telephone_numbers_belong_to_nobody()
    {
        var births = ReadRegion.AllRows.Where(r => r.Kind == "birth").ToList();
        Assert.All(births.Where(b => b["contact_email"] is not null), b =>
            Assert.EndsWith(".example", b["contact_email"], StringComparison.Ordinal));
        Assert.All(births, b => Assert.Matches(Telephone(), b["contact_phone"]!));
        Assert.All(DemoPeople.All, p => Assert.EndsWith(".example", p.Email, StringComparison.Ordinal));
    }

    private static string Fingerprint(DemoRegion region)
    {
        using var hash = IncrementalHash.CreateHash(HashAlgorithmName.SHA256);
        foreach (var file in region.Submissions())
        {
            hash.AppendData(Encoding.UTF8.GetBytes($"{file.SiteCode} {file.ReceivedAt:O} {file.FileName} {file.Format} {file.Rows}\n"));
            hash.AppendData(file.Content);
        }

        return Convert.ToHexStringLower(hash.GetHashAndReset());
    }

    [GeneratedRegex("^555-01[0-9]{2}$")]
    private static partial Regex Telephone();
}
