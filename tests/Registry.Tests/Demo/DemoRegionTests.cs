using System.Security.Cryptography;
using System.Text;
using System.Text.RegularExpressions;
using Registry.Demo;
using Registry.Intake;

namespace Registry.Tests.Demo;

/// <summary>What must hold of the generated files whatever they tell.</summary>
public sealed partial class DemoRegionTests
{
    /// <summary>A pinned fingerprint: another runtime, machine or library must not change a byte. A change of the generator does, and sets it anew.</summary>
    private const string SmallSha256 = "d5c3d550582b3b2041c3184c8e120883ecb0c84dbdcad3a8b111d8f2b3a22502";

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
            using var reader = await RowReader.OpenAsync(file.Format, null, new MemoryStream(file.Content), TestContext.Current.CancellationToken);
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
        Assert.All(births.Where(b => b["contact_email"] is not null), b => Assert.EndsWith(".example", b["contact_email"], StringComparison.Ordinal));
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
