using System.Text;
using Microsoft.AspNetCore.Identity;
using Microsoft.EntityFrameworkCore;
using Microsoft.Extensions.DependencyInjection;
using Npgsql;
using Registry.Demo;
using Registry.Intake.Applying;
using Registry.Intake.Formats;
using Registry.Intake.Mappings;
using Registry.Intake.Receiving;
using Registry.Intake.Rows;
using Registry.PolicyVersions;
using Registry.Records;
using Registry.Rules;

namespace Registry.Tests.Intake;

/// <summary>The program on its own database with two invented sites, and short ways to send rows and look at what became of them.</summary>
internal sealed class IntakeBed : IAsyncDisposable
{
    public const string Who = "record_number,card_id,birth_date,sex,birth_order,mother_given_name,mother_family_name,mother_birth_date";

    private IntakeBed(RegistryApp app) => App = app;

    public RegistryApp App { get; }
    public SiteId Harbour { get; private init; }
    public SiteId Hill { get; private init; }
    public NpgsqlDataSource Source => App.Source;
    public static CancellationToken Ct => TestContext.Current.CancellationToken;

    /// <summary>Noon of the day the program lives in.</summary>
    public DateTimeOffset Now { get; } = new(RegistryApp.DefaultToday.ToDateTime(new TimeOnly(12, 0)), TimeSpan.Zero);

    public const string Password = "a long enough secret";

    /// <param name="listen">Behind a real loopback port, for a browser or a socket.</param>
    public static async Task<IntakeBed> StartAsync(TestDatabase database, IReadOnlyDictionary<string, string?>? settings = null,
        bool listen = false)
    {
        var all = new Dictionary<string, string?>(settings ?? new Dictionary<string, string?>()) { ["Access:AllowHttp"] = "true" };
        var app = await RegistryApp.StartAsync(database, settings: all);
        return await OnAsync(listen ? app.Listen() : app);
    }

    /// <summary>The same with a small invented region, loaded through the intake; every caller gets a copy.</summary>
    public static async Task<IntakeBed> StartWithRegionAsync(TestDatabase database, IReadOnlyDictionary<string, string?>? settings = null,
        bool listen = false)
    {
        var app = await RegistryApp.StartAsync(database, "region", async app =>
        {
            await OnAsync(app);
            await LoadDemoRegion.RunAsync(app.Services, DemoRegion.Small(app.Today), _ => { }, Ct);
        }, new Dictionary<string, string?>(settings ?? new Dictionary<string, string?>())
        {
            ["Access:AllowHttp"] = "true",
            ["Demo:Enabled"] = "true",
        });
        return await OnAsync(listen ? app.Listen() : app);
    }

    /// <summary>Finds the two sites, or makes them.</summary>
    public static async Task<IntakeBed> OnAsync(RegistryApp app)
    {
        await using var db = app.OpenDb();
        var bed = new IntakeBed(app)
        {
            Harbour = await SiteAsync("harbour", "Harbour Hospital", "Lind", SiteKind.Hospital),
            Hill = await SiteAsync("hill", "Hill Audiology", "Mere", SiteKind.AudiologyClinic),
        };
        if (!await db.CareAgreements.AnyAsync(a => a.ToSiteId == bed.Hill, Ct)) await bed.AgreeAsync(bed.Harbour, bed.Hill);
        return bed;

        async Task<SiteId> SiteAsync(string code, string name, string county, SiteKind kind)
        {
            if (await db.Sites.FirstOrDefaultAsync(s => s.Code == code, Ct) is { } known) return known.Id;
            var site = new Site { Id = SiteId.New(), Code = code, Name = name, County = county, Kind = kind };
            db.Sites.Add(site);
            await db.SaveChangesAsync(Ct);
            return site.Id;
        }
    }

    /// <summary>Somebody who can sign in with <see cref="Password"/>.</summary>
    public async Task<Person> AddPersonAsync(Role role, SiteId? site = null, params string[] counties)
    {
        await using var scope = App.Services.CreateAsyncScope();
        var email = $"{role}-{Guid.CreateVersion7():n}@example.test".ToLowerInvariant();
        var person = new Person
        {
            Id = Guid.CreateVersion7(),
            UserName = email,
            Email = email,
            DisplayName = role.ToString(),
            Role = role,
            SiteId = site,
            Counties = counties,
        };
        var people = scope.ServiceProvider.GetRequiredService<UserManager<Person>>();
        // Whether somebody would guess it is judged where people set theirs; judging this one each time took longer than adding them.
        person.PasswordHash = people.PasswordHasher.HashPassword(person, Password);
        Assert.True((await people.CreateAsync(person)).Succeeded);
        return person;
    }

    public ReceiveSubmission Receive => App.Services.GetRequiredService<ReceiveSubmission>();
    public ProcessSubmission Process => App.Services.GetRequiredService<ProcessSubmission>();

    public Task<Receipt> ReceiveAsync(string text, SiteId? site = null, SubmissionFormat format = SubmissionFormat.Csv,
        RowKind? kind = null,
        DateTimeOffset? at = null, string? key = null) =>
        Receive.ReceiveAsync(site ?? Harbour, format, kind, new MemoryStream(Encoding.UTF8.GetBytes(text)), default, at
            ?? Now, null, key, Ct);

    /// <summary>Sends a file and works it through; a refused one fails the test.</summary>
    public async Task<SubmissionId> SendAsync(string text, SiteId? site = null, SubmissionFormat format = SubmissionFormat.Csv,
        RowKind? kind = null,
        DateTimeOffset? at = null)
    {
        var receipt = await ReceiveAsync(text, site, format, kind, at);
        Assert.Equal(ReceiptKind.Received, receipt.Kind);
        Assert.True(await Process.RunAsync(receipt.Id.Value, Ct));
        return receipt.Id;
    }

    /// <summary>Sends the bytes of a file and works it through; a refused one fails the test.</summary>
    public async Task<SubmissionId> SendFileAsync(byte[] bytes, SubmissionFormat format, SiteId? site = null, string? mapping = null,
        string? sheet = null)
    {
        var receipt = await Receive.ReceiveAsync(new(site ?? Harbour, format, default, Now) { Mapping = mapping, Sheet = sheet },
            new MemoryStream(bytes), Ct);
        Assert.True(receipt.Kind == ReceiptKind.Received, string.Join("; ", receipt.Problems));
        Assert.True(await Process.RunAsync(receipt.Id.Value, Ct));
        return receipt.Id;
    }

    public async Task<SiteId> AddSiteAsync(string code, SiteKind kind)
    {
        await using var db = App.OpenDb();
        var site = new Site { Id = SiteId.New(), Code = code, Name = $"Site {code}", County = "Lind", Kind = kind };
        db.Sites.Add(site);
        await db.SaveChangesAsync(Ct);
        return site.Id;
    }

    /// <summary>The office states that infants of one site are seen at another. Harbour's are seen on the Hill.</summary>
    public async Task AgreeAsync(SiteId from, SiteId to, AgreementCovers covers = AgreementCovers.All)
    {
        await using var db = App.OpenDb();
        db.CareAgreements.Add(new()
        {
            Id = Guid.CreateVersion7(),
            FromSiteId = from,
            ToSiteId = to,
            Covers = covers,
            FromOn = App.Today.AddYears(-3),
            StatedAt = Now,
        });
        await db.SaveChangesAsync(Ct);
    }

    /// <summary>A version of the policy that is in force since long ago.</summary>
    public async Task DecidePolicyAsync(Func<Policy, Policy> change)
    {
        var policy = change(Policy.Default) with { Version = "2026-2", EffectiveFrom = new(2026, 1, 1) };
        await using var insert = Source.CreateCommand(
            "insert into policies (version, effective_from, document, recorded_at) values ($1, $2, $3::jsonb, now())");
        insert.Parameters.AddWithValue(policy.Version);
        insert.Parameters.AddWithValue(policy.EffectiveFrom);
        insert.Parameters.AddWithValue(policy.ToJson());
        await insert.ExecuteNonQueryAsync(Ct);
        App.Services.GetRequiredService<PolicyStore>().Forget();
    }

    /// <summary>A column mapping of the site, as saved.</summary>
    public async Task<Guid> AddMappingAsync(string name, string document, SiteId? site = null)
    {
        var mapping = ColumnMapping.FromJson(document);
        var saved = await App.Services.GetRequiredService<SaveMapping>()
            .SaveAsync(null, site ?? Harbour, name, mapping, Guid.CreateVersion7(), Ct);
        return saved.MappingId;
    }

    /// <summary>One line a row: <c>outcome[ hold reason][ field: reason; …]</c>.</summary>
    public Task<List<string>> OutcomesAsync(SubmissionId id) => ListAsync(
        """
        select concat_ws(' ', r.outcome, case when h.resolution is null then h.reason end, (
          select string_agg(concat_ws(': ', p ->> 'field', p ->> 'reason'), '; ') from jsonb_array_elements(r.problems) p))
          from submission_rows r left join held_rows h using (submission_id, row_number)
         where submission_id = $1 order by row_number
        """, id.Value);

    /// <summary>What kept rows say, as the program reads it: in the database it is encrypted.</summary>
    public async Task<List<string>> ContentsAsync(string rows) =>
        [.. (await ListAsync($"select content from {rows}")).Select(RowContent.Open)];

    /// <summary>What kept rows state in some columns, with spaces between, in their order; nothing for a column not stated.</summary>
    public async Task<List<string>> StatedAsync(params Field[] columns) =>
        [.. (await ContentsAsync("submission_rows where content is not null order by submission_id, row_number"))
            .Select(c => string.Join(' ', columns.Select(f => RowContent.Fields(c).GetValueOrDefault(f, "-"))))];

    public async Task<List<string>> ListAsync(string sql, params object[] parameters)
    {
        var list = new List<string>();
        await using var command = Source.CreateCommand(sql);
        foreach (var parameter in parameters) command.Parameters.AddWithValue(parameter);
        await using var reader = await command.ExecuteReaderAsync(Ct);
        while (await reader.ReadAsync(Ct)) list.Add(reader.GetValue(0).ToString()!);
        return list;
    }

    public async Task<long> CountAsync(string from) =>
        long.Parse((await ListAsync($"select count(*) from {from}"))[0], System.Globalization.CultureInfo.InvariantCulture);

    public ValueTask DisposeAsync() => App.DisposeAsync();
}
