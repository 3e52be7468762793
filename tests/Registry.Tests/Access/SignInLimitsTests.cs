using System.Diagnostics;
using System.Net;
using Microsoft.AspNetCore.Identity;
using Microsoft.AspNetCore.Mvc.Testing;
using Microsoft.AspNetCore.TestHost;
using Microsoft.Extensions.DependencyInjection;
using Microsoft.Extensions.Time.Testing;
using Registry.Access;
using Registry.Records;
using Registry.Tests.Intake;

namespace Registry.Tests.Access;

/// <summary>Guessing passwords: what it costs the guesser, what it costs the registry, and what it tells.</summary>
public sealed class SignInLimitsTests(TestDatabase database, ITestOutputHelper output)
{
    [Fact]
    public async Task Every_try_costs_one_hash_and_is_answered_in_the_same_words()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var counted = new CountHashes();
        await using var app = Counting(bed, counted);
        var (known, disabled, hashless, delayed) = (await bed.AddPersonAsync(Role.Coordinator), await bed.AddPersonAsync(Role.Coordinator),
            await bed.AddPersonAsync(Role.Coordinator), await bed.AddPersonAsync(Role.Coordinator));
        await bed.ListAsync("update people set disabled_at = now() where id = $1 returning 1", disabled.Id);
        await bed.ListAsync("update people set password_hash = null where id = $1 returning 1", hashless.Id);
        var limits = app.Services.GetRequiredService<LimitSignIns>();
        for (var i = 0; i < 8; i++) limits.Failed(delayed.Email!.ToUpperInvariant(), "", known: false);

        var said = new List<string>();
        foreach (var (email, password) in new[]
        {
            ("nobody@example.test", "wrong"), (known.Email!, "wrong"), (disabled.Email!, IntakeBed.Password),
            (hashless.Email!, IntakeBed.Password), (delayed.Email!, IntakeBed.Password),
        })
        {
            using var client = app.CreateClient(new() { AllowAutoRedirect = false });
            var before = counted.Verified;
            using var answer = await SignedIn.PostAsync(client, new Person { DisplayName = "", Email = email }, password);
            Assert.Equal(HttpStatusCode.OK, answer.StatusCode);
            Assert.Equal(1, counted.Verified - before);
            var page = await answer.Content.ReadAsStringAsync(IntakeBed.Ct);
            said.Add(System.Text.RegularExpressions.Regex.Match(page, "(?s)role=\"alert\".*?</div>").Value);
        }

        Assert.Contains("These do not match", Assert.Single(said.Distinct()), StringComparison.Ordinal);
        Assert.Equal(0, counted.Hashed);
    }

    /// <summary>With hashes as in service: whose address it is, or that a person is disabled, the clock does not tell. Of pairs of tries
    /// about as many are slower one way as the other; the bound is wide, the machine does other things too.</summary>
    [Theory]
    [InlineData("known")]
    [InlineData("disabled")]
    [InlineData("delayed")]
    public async Task An_unknown_address_takes_as_long_to_refuse_as(string other)
    {
        const int pairs = 60;
        await using var bed = await IntakeBed.StartAsync(database);
        var hashes = new CountHashes { Iterations = 100_000 };
        await using var app = Counting(bed, hashes, ("Access:SignInsPerMinute", "100000"), ("Access:AllSignInsPerMinute", "100000"));
        var person = await bed.AddPersonAsync(Role.Coordinator);
        await bed.ListAsync("update people set password_hash = $1 returning 1", hashes.HashPassword(person, IntakeBed.Password));
        if (other == "disabled") await bed.ListAsync("update people set disabled_at = now() returning 1");
        var limits = app.Services.GetRequiredService<LimitSignIns>();
        if (other == "delayed") for (var i = 0; i < 8; i++) limits.Failed(person.Email!.ToUpperInvariant(), "", known: false);
        using var client = app.CreateClient(new() { AllowAutoRedirect = false });
        var token = await SignedIn.TokenAsync(client, "/sign-in");
        var slower = 0;
        for (var i = -5; i < pairs; i++) // the first warm the code
        {
            double theirs = 0, nobodys = 0;
            foreach (var first in i % 2 == 0 ? new[] { true, false } : [false, true])
            {
                if (first) theirs = await TimeAsync(person.Email!);
                else nobodys = await TimeAsync($"nobody{i}@example.test");
            }

            if (i >= 0 && theirs > nobodys) slower++;
        }

        output.WriteLine($"of {pairs} pairs the address that is {other} took longer in {slower}");
        Assert.InRange(slower, pairs / 10, pairs - (pairs / 10));

        async Task<double> TimeAsync(string email)
        {
            using var form = new FormUrlEncodedContent(
                [new("Email", email), new("Password", "a guess"), new("__RequestVerificationToken", token)]);
            var clock = Stopwatch.StartNew();
            using var answer = await client.PostAsync("/sign-in", form, IntakeBed.Ct);
            Assert.Equal(HttpStatusCode.OK, answer.StatusCode);
            return clock.Elapsed.TotalMilliseconds;
        }
    }

    [Fact]
    public async Task A_password_of_a_megabyte_is_not_hashed()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var counted = new CountHashes();
        await using var app = Counting(bed, counted);
        var person = await bed.AddPersonAsync(Role.Coordinator);
        using var client = app.CreateClient(new() { AllowAutoRedirect = false });
        using var longer = await SignedIn.PostAsync(client, person, new string('x', RefuseWeakPasswords.Longest + 1));
        Assert.Equal(HttpStatusCode.OK, longer.StatusCode);
        using var huge = await SignedIn.PostAsync(client, person, new string('x', 1024 * 1024));
        Assert.False(huge.IsSuccessStatusCode && huge.StatusCode != HttpStatusCode.OK);
        Assert.Equal(0, counted.Verified + counted.Hashed);
    }

    [Fact]
    public void Failures_cost_ever_longer_waits_and_hold_nobody_out_elsewhere()
    {
        var clock = new FakeTimeProvider();
        using var limits = new LimitSignIns(new AccessSettings(), clock);
        for (var i = 0; i < 3; i++) limits.Failed("A", "one", known: true);
        Assert.False(limits.MustWait("A", "one", known: true)); // fingers slip
        var waited = new List<double>();
        for (var i = 0; i < 12; i++)
        {
            limits.Failed("A", "one", known: true);
            var seconds = 0;
            while (limits.MustWait("A", "one", known: true))
            {
                clock.Advance(TimeSpan.FromSeconds(1));
                seconds++;
            }

            waited.Add(seconds);
        }

        Assert.Equal([1, 2, 4, 8, 16, 32, 64, 128, 256, 300, 300, 300], waited);

        // A thousand failures of strangers at their addresses: the owner at an address of the last months is not held up.
        for (var i = 0; i < 1_000; i++) limits.Failed("B", $"stranger {i}", known: false);
        Assert.False(limits.MustWait("B", "office", known: true));
        Assert.True(limits.MustWait("B", "stranger 1001", known: false));
        // Nor is anybody else.
        Assert.False(limits.MustWait("C", "stranger 1", known: false));
    }

    [Fact]
    public async Task The_owner_gets_in_from_the_usual_place_while_strangers_guess()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var person = await bed.AddPersonAsync(Role.Coordinator);
        using var first = SignedIn.Nobody(bed);
        Assert.Equal(HttpStatusCode.Redirect, (await SignedIn.PostAsync(first, person, IntakeBed.Password)).StatusCode);
        var limits = bed.App.Services.GetRequiredService<LimitSignIns>();
        for (var i = 0; i < 100; i++) limits.Failed(person.NormalizedEmail!, $"stranger {i}", known: false);
        await bed.ListAsync("update sessions set address = '' returning 1"); // a request in this process has no address
        using var again = SignedIn.Nobody(bed);
        Assert.Equal(HttpStatusCode.Redirect, (await SignedIn.PostAsync(again, person, IntakeBed.Password)).StatusCode);
    }

    [Fact]
    public async Task Health_and_others_are_answered_while_eighty_clients_flood_the_sign_in()
    {
        const int perMinute = 30;
        await using var bed = await IntakeBed.StartAsync(database);
        var counted = new CountHashes { Iterations = 100_000 }; // as in service
        await using var app = Counting(bed, counted, ("Access:SignInsPerMinute", $"{perMinute}"));
        using var client = app.CreateClient(new() { AllowAutoRedirect = false });
        var token = await SignedIn.TokenAsync(client, "/sign-in");
        using var stop = CancellationTokenSource.CreateLinkedTokenSource(IntakeBed.Ct);
        var (refused, tried) = (0, 0);
        var clock = Stopwatch.StartNew();
        var flood = Enumerable.Range(0, 80).Select(i => Task.Run(async () =>
        {
            while (!stop.IsCancellationRequested)
            {
                using var form = new FormUrlEncodedContent(
                    [new("Email", $"person{i}@example.test"), new("Password", "a guess"), new("__RequestVerificationToken", token)]);
                using var answer = await client.PostAsync("/sign-in", form, CancellationToken.None);
                Interlocked.Increment(ref tried);
                if (answer.StatusCode == HttpStatusCode.TooManyRequests)
                {
                    Assert.NotNull(answer.Headers.RetryAfter);
                    Interlocked.Increment(ref refused);
                }
            }
        })).ToList();
        await Eventually.HoldsAsync(() => Task.FromResult(Volatile.Read(ref refused) > 200));

        var times = new List<double>();
        for (var i = 0; i < 50; i++)
        {
            var asked = Stopwatch.StartNew();
            using var live = await client.GetAsync("/health/live", IntakeBed.Ct);
            Assert.Equal(HttpStatusCode.OK, live.StatusCode);
            times.Add(asked.Elapsed.TotalMilliseconds);
        }

        await stop.CancelAsync();
        await Task.WhenAll(flood);
        // What was hashed follows the limit, not the number of tries.
        Assert.InRange(counted.Verified, 1, (long)(perMinute * (2 + clock.Elapsed.TotalMinutes)));
        Assert.True(tried > counted.Verified);
        output.WriteLine($"80 clients, {tried} tries, {refused} refused before hashing, {counted.Verified} hashed in "
            + $"{clock.Elapsed.TotalSeconds:0.0} s; /health/live p50 {times.Order().ElementAt(25):0.0} ms, most {times.Max():0.0} ms");
    }

    [Theory]
    [InlineData("password1234")]
    [InlineData("Password1234!")]
    [InlineData("P@ssw0rd1234")]
    [InlineData("123456789012")]
    [InlineData("qwertyuiop123")]
    [InlineData("iloveyou1234")]
    [InlineData("aaaaaaaaaaaa")]
    [InlineData("abcabcabcabc")]
    [InlineData("letmein12345")]
    [InlineData("Coordinator2026")] // the own name
    [InlineData("short")]
    public async Task Common_passwords_are_refused_wherever_one_is_set(string password)
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var person = await bed.AddPersonAsync(Role.Coordinator);
        using var client = SignedIn.Nobody(bed);
        await SignedIn.PostAsync(client, person, IntakeBed.Password);
        using var answer = await SessionsTests.PostAsync(client, "/access/own", "?handler=Password",
            ("Current", IntakeBed.Password), ("New", password));
        Assert.Equal(HttpStatusCode.OK, answer.StatusCode);
        using var still = SignedIn.Nobody(bed);
        Assert.Equal(HttpStatusCode.OK, (await SignedIn.PostAsync(still, person, password)).StatusCode);

        await using var scope = bed.App.Services.CreateAsyncScope();
        var people = scope.ServiceProvider.GetRequiredService<UserManager<Person>>();
        Assert.False((await people.CreateAsync(new()
        {
            DisplayName = "Coordinator",
            UserName = "new@example.test",
            Email = "new@example.test"
        }, password)).Succeeded);
    }

    [Fact]
    public async Task A_changed_password_ends_the_other_sessions_and_the_old_one_opens_nothing()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var person = await bed.AddPersonAsync(Role.Coordinator);
        var (here, there) = (SignedIn.Nobody(bed), SignedIn.Nobody(bed));
        foreach (var client in new[] { here, there }) await SignedIn.PostAsync(client, person, IntakeBed.Password);
        const string wanted = "brisk lantern under seven maples";
        using (var wrong = await SessionsTests.PostAsync(here, "/access/own", "?handler=Password", ("Current", "not it"), ("New", wanted)))
            Assert.Equal(HttpStatusCode.OK, wrong.StatusCode);
        using (var done = await SessionsTests.PostAsync(here, "/access/own", "?handler=Password",
            ("Current", IntakeBed.Password), ("New", wanted)))
            Assert.Equal(HttpStatusCode.Redirect, done.StatusCode);
        Assert.Equal(HttpStatusCode.OK, (await here.GetAsync("/follow-up", IntakeBed.Ct)).StatusCode);
        Assert.Equal(HttpStatusCode.Redirect, (await there.GetAsync("/follow-up", IntakeBed.Ct)).StatusCode);
        using var again = SignedIn.Nobody(bed);
        Assert.Equal(HttpStatusCode.OK, (await SignedIn.PostAsync(again, person, IntakeBed.Password)).StatusCode);
        Assert.Equal(HttpStatusCode.Redirect, (await SignedIn.PostAsync(again, person, wanted)).StatusCode);
    }

    /// <summary>One more node on the bed's database that counts hashes.</summary>
    private static WebApplicationFactory<Program> Counting(IntakeBed bed, CountHashes counted,
        params (string Name, string Value)[] settings)
    {
        var all = new Dictionary<string, string?> { ["Access:AllowHttp"] = "true" };
        foreach (var (name, value) in settings) all[name] = value;
        return RegistryApp.On(bed.App.Logins.Owner!, all).WithWebHostBuilder(builder => builder.ConfigureTestServices(services =>
            services.AddSingleton<IPasswordHasher<Person>>(counted)));
    }

    private sealed class CountHashes : IPasswordHasher<Person>
    {
        private long _hashed, _verified;

        public int Iterations { get; init; } = 10;
        public long Hashed => Interlocked.Read(ref _hashed);
        public long Verified => Interlocked.Read(ref _verified);

        private PasswordHasher<Person> Real => new(Microsoft.Extensions.Options.Options.Create(
            new PasswordHasherOptions { IterationCount = Iterations }));

        public string HashPassword(Person user, string password)
        {
            Interlocked.Increment(ref _hashed);
            return Real.HashPassword(user, password);
        }

        public PasswordVerificationResult VerifyHashedPassword(Person user, string hashedPassword, string providedPassword)
        {
            Interlocked.Increment(ref _verified);
            return Real.VerifyHashedPassword(user, hashedPassword, providedPassword);
        }
    }
}
