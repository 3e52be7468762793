using System.Diagnostics;
using System.Globalization;
using System.Security.Cryptography;
using System.Text;
using Microsoft.AspNetCore.Identity;
using Microsoft.EntityFrameworkCore;
using Npgsql;
using Registry.Infants.Counting;
using Registry.Infants.Statuses;
using Registry.Intake.Applying;
using Registry.Intake.Receiving;
using Registry.PolicyVersions;
using Registry.Records;
using Registry.SiteQuality.Equipment;

namespace Registry.Demo;

/// <summary>
/// Loads the invented region the way real places would: every file goes through the intake with the moment it was received.
/// Killed half-way, the next run goes on where it stopped (region and file name are the idempotency key).
/// </summary>
public static class LoadDemoRegion
{
    private const string KeyPrefix = "demo/";
    private const string KeyName = "Demonstration";

    /// <summary>True once the people exist, which is the last thing done.</summary>
    public static async Task<bool> IsLoadedAsync(IServiceProvider services, CancellationToken ct)
    {
        await using var scope = services.CreateAsyncScope();
        return await scope.ServiceProvider.GetRequiredService<RegistryDb>().Users.AnyAsync(ct);
    }

    /// <summary>Marks an empty database as one of the demonstration. Any other that is not marked is refused: real people would get a
    /// public password, real infants invented neighbors.</summary>
    /// <exception cref="NotADemonstrationException">It holds something and is not marked.</exception>
    public static async Task MarkAsync(IServiceProvider services, CancellationToken ct)
    {
        await using var scope = services.CreateAsyncScope();
        var db = scope.ServiceProvider.GetRequiredService<RegistryDb>();
        if (await db.Installations.AnyAsync(i => i.Demonstration, ct)) return;
        if (await db.Users.AnyAsync(ct) || await db.Infants.AnyAsync(ct) || await db.Submissions.AnyAsync(ct))
            throw new NotADemonstrationException();
        await db.Installations.ExecuteUpdateAsync(u => u.SetProperty(i => i.Demonstration, true), ct);
    }

    /// <param name="services">The program's own.</param>
    /// <param name="region">What to load; where a load of the demonstration was interrupted, that one is finished instead.</param>
    /// <param name="say">Takes a line of progress every few seconds.</param>
    /// <param name="ct">Stops between files.</param>
    public static async Task RunAsync(IServiceProvider services, DemoRegion region, Action<string> say, CancellationToken ct)
    {
        var clock = Stopwatch.StartNew();
        await MarkAsync(services, ct);
        region = await BegunAsync(services, ct) ?? region;
        var sites = await EnsureSitesAsync(services, ct);
        await EnsureAgreementsAsync(services, region, sites, ct);
        say($"Demo region: loading {region.Births:#,0} births up to {Report.Day(region.Anchor)} …");
        var receive = services.GetRequiredService<ReceiveSubmission>();
        var process = services.GetRequiredService<ProcessSubmission>();
        var (files, rows, said) = (0, 0, TimeSpan.Zero);
        foreach (var submission in region.Submissions())
        {
            using var body = new MemoryStream(submission.Content);
            var receipt = await receive.ReceiveAsync(
                sites[submission.SiteCode], submission.Format, null, body, default, submission.ReceivedAt, submission.FileName,
                KeyOf(region, submission), ct);
            if (receipt.Kind is not (ReceiptKind.Received or ReceiptKind.Repeated))
                throw new InvalidOperationException(
                    $"{submission.FileName} was not taken: {receipt.Kind} {string.Join("; ", receipt.Problems)}");
            // An interrupted load may still hold the file it was at, until the server has seen that nobody is there.
            while (!await process.RunAsync(receipt.Id.Value, ct)) await Task.Delay(50, ct);
            (files, rows) = (files + 1, rows + submission.Rows);
            if (clock.Elapsed - said < TimeSpan.FromSeconds(3)) continue;
            said = clock.Elapsed;
            var days = DateOnly.FromDateTime(submission.ReceivedAt.UtcDateTime).DayNumber - region.FirstDay.DayNumber;
            say($"Demo region: {100 * days / DemoRegion.Days} % ({files:#,0} files, {rows:#,0} rows, up to "
                + $"{Report.Day(submission.ReceivedAt.UtcDateTime)})");
        }

        var policy = await services.GetRequiredService<PolicyStore>().InForceAsync(region.Anchor, ct);
        // A table that grew from nothing has no statistics yet; without them the first pages are planned badly.
        await using (var analyze = services.GetRequiredService<NpgsqlDataSource>()
            .CreateCommand("analyze")) await analyze.ExecuteNonQueryAsync(ct);
        await RecomputeStatuses.ForAllAsync(services.GetRequiredService<NpgsqlDataSource>(), region.Anchor, policy, ct);
        await services.GetRequiredService<KeepCountsCurrent>().FoldAsync(ct);
        await EnsureKeysAsync(services, region, sites, ct);
        await EnsurePeopleAsync(services, sites);
        await EnsureEquipmentAsync(services, region, sites, ct);
        await HandOffHistory.EnsureAsync(services, region, sites, ct);
        say($"Demo region: loaded {rows:#,0} rows of {files:#,0} files in {clock.Elapsed.TotalSeconds:0} s.");
    }

    /// <summary>The demonstration's key of a site. As public as the password.</summary>
    public static string SiteKeyOf(string siteCode) => $"reg_demo_{siteCode}";

    /// <summary>Says which region a file is of, so that an interrupted load goes on with the same one, also on another day.</summary>
    private static string KeyOf(DemoRegion region, DemoSubmission submission) =>
        string.Create(CultureInfo.InvariantCulture,
            $"{KeyPrefix}{Report.Day(region.Anchor)}/{region.Births}/{region.Seed}/{submission.FileName}");

    private static async Task<DemoRegion?> BegunAsync(IServiceProvider services, CancellationToken ct)
    {
        await using var scope = services.CreateAsyncScope();
        var key = await scope.ServiceProvider.GetRequiredService<RegistryDb>().Submissions
            .Where(s => s.IdempotencyKey != null && s.IdempotencyKey.StartsWith(KeyPrefix)).Select(s => s.IdempotencyKey)
                .FirstOrDefaultAsync(ct);
        return key?.Split('/') is [_, var anchor, var births, var seed, _]
            ? new(DateOnly.ParseExact(anchor, "yyyy-MM-dd", CultureInfo.InvariantCulture), int.Parse(births, CultureInfo.InvariantCulture),
                ulong.Parse(seed, CultureInfo.InvariantCulture))
            : null;
    }

    private static async Task EnsureKeysAsync(IServiceProvider services, DemoRegion region, Dictionary<string, SiteId> sites,
        CancellationToken ct)
    {
        await using var scope = services.CreateAsyncScope();
        var db = scope.ServiceProvider.GetRequiredService<RegistryDb>();
        var known = await db.SiteKeys.Where(k => k.Name == KeyName).Select(k => k.SiteId).ToHashSetAsync(ct);
        foreach (var place in Places.All.Where(p => !known.Contains(sites[p.Code])))
        {
            var secret = SiteKeyOf(place.Code);
            db.SiteKeys.Add(new SiteKey
            {
                Id = Guid.CreateVersion7(),
                SiteId = sites[place.Code],
                Name = KeyName,
                Prefix = secret[..12],
                Sha256 = SHA256.HashData(Encoding.UTF8.GetBytes(secret)),
                Demonstration = true,
                CreatedAt = new DateTimeOffset(region.FirstDay.ToDateTime(TimeOnly.MinValue), TimeSpan.Zero),
            });
        }

        await db.SaveChangesAsync(ct);
    }

    private static async Task<Dictionary<string, SiteId>> EnsureSitesAsync(IServiceProvider services, CancellationToken ct)
    {
        await using var scope = services.CreateAsyncScope();
        var db = scope.ServiceProvider.GetRequiredService<RegistryDb>();
        var known = await db.Sites.ToDictionaryAsync(s => s.Code, s => s.Id, ct);
        foreach (var place in Places.All.Where(p => !known.ContainsKey(p.Code)))
        {
            var site = new Site
            {
                Id = SiteId.New(),
                Code = place.Code,
                Name = place.Name,
                County = place.County,
                Kind = place.Kind,
                HasNicu = place.HasNicu,
                ContactName = "Registrar of births and tests",
                ContactPhone = $"555-{1000 + known.Count}",
            };
            db.Sites.Add(site);
            known[place.Code] = site.Id;
        }

        await db.SaveChangesAsync(ct);
        return known;
    }

    /// <summary>Whose infants are seen where: referred ones at the county's clinic and in early intervention, all by the program's
    /// office.</summary>
    private static async Task EnsureAgreementsAsync(
        IServiceProvider services, DemoRegion region, Dictionary<string, SiteId> sites, CancellationToken ct)
    {
        await using var scope = services.CreateAsyncScope();
        var db = scope.ServiceProvider.GetRequiredService<RegistryDb>();
        var ours = Places.Birthing.Select(p => sites[p.Code]).ToList();
        if (await db.CareAgreements.AnyAsync(a => ours.Contains(a.FromSiteId), ct)) return;
        foreach (var place in Places.Birthing)
        {
            Agree(place, Places.ClinicOf(place.County), AgreementCovers.Referred);
            Agree(place, Places.EarlyIntervention, AgreementCovers.Referred);
            Agree(place, Places.Office, AgreementCovers.All);
        }

        await db.SaveChangesAsync(ct);

        void Agree(Place from, Place to, AgreementCovers covers) => db.CareAgreements.Add(new()
        {
            Id = Guid.CreateVersion7(),
            FromSiteId = sites[from.Code],
            ToSiteId = sites[to.Code],
            Covers = covers,
            FromOn = region.FirstDay,
            StatedAt = new DateTimeOffset(region.FirstDay.ToDateTime(TimeOnly.MinValue), TimeSpan.Zero),
        });
    }

    private static async Task EnsureEquipmentAsync(
        IServiceProvider services, DemoRegion region, Dictionary<string, SiteId> sites, CancellationToken ct)
    {
        await using var scope = services.CreateAsyncScope();
        var db = scope.ServiceProvider.GetRequiredService<RegistryDb>();
        if (await db.EquipmentEvents.AnyAsync(ct)) return;
        var people = await db.Users.Where(p => p.Demonstration).ToListAsync(ct);
        db.EquipmentEvents.AddRange(EquipmentHistory.Of(region.Anchor, sites,
            people.First(p => p.Role == Role.SiteManager).Id, people.First(p => p.Role == Role.Coordinator).Id));
        await db.SaveChangesAsync(ct);
    }

    private static async Task EnsurePeopleAsync(IServiceProvider services, Dictionary<string, SiteId> sites)
    {
        await using var scope = services.CreateAsyncScope();
        var people = scope.ServiceProvider.GetRequiredService<UserManager<Person>>();
        foreach (var (email, name, role, site, _) in DemoPeople.All)
        {
            if (await people.FindByEmailAsync(email) is not null) continue;
            var person = new Person
            {
                UserName = email,
                Email = email,
                EmailConfirmed = true,
                DisplayName = name,
                Role = role,
                Demonstration = true,
                SiteId = site is null ? null : sites[site]
            };
            var result = await people.CreateAsync(person, DemoPeople.Password);
            if (!result.Succeeded) throw new InvalidOperationException(string.Join("; ", result.Errors.Select(e => e.Description)));
        }
    }
}

/// <summary>The demonstration was asked for on a database that is in service.</summary>
public sealed class NotADemonstrationException() : Exception(
    "This database holds records and is not marked as a demonstration: the demonstration does not run on it. Leave Demo:Enabled out, or "
    + "name an empty database.");
