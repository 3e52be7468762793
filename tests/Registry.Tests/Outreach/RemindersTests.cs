using System.Globalization;
using Microsoft.Extensions.DependencyInjection;
using MimeKit;
using Registry.Outreach;
using Registry.Records;
using Registry.Tests.Intake;
using Registry.Tests.Reporting.Measures;

namespace Registry.Tests.Outreach;

/// <summary>Who is written to, when and how often, and what a letter says.</summary>
public sealed class RemindersTests(TestDatabase database)
{
    private const string Header =
        "kind,record_number,birth_date,sex,infant_given_name,infant_family_name,mother_given_name,mother_family_name,mother_birth_date,language,contact_email,contact_phone,email_consent,ear,outcome,reason,method,performed_at\n";

    /// <summary>Born on 20 October, not screened: due on 20 November, as every test lives on 25 November 2026.</summary>
    private static string Birth(string number, string email, bool consent = true, string language = "en", string sex = "female") =>
        $"birth,{number},2026-10-20,{sex},Tessaly,Quillfeather{number},Brannoch{number},Quillfeather{number},1994-03-07,{language},{email},555-0177,{(consent ? "true" : "false")},,,,,\n";

    private static string Screen(string number, string ear, string outcome) =>
        $"screening,{number},,,,,,,,,,,,{ear},{outcome},,aabr,2026-10-21T10:00\n";

    [Fact]
    public async Task Families_who_consented_are_written_to_once_and_nobody_else()
    {
        await using var bed = await StartAsync();
        await bed.SendAsync(Header + Birth("A", "a@family.example") + Birth("B", "b@family.example", consent: false) + Birth("C", "")
            + Birth("D", "d@family.example") + Screen("D", "right", "pass") + Screen("D", "left", "pass"));
        Assert.Equal("1 reminders queued, 0 withdrawn", await QueueAsync(bed));
        Assert.Equal("0 reminders queued, 0 withdrawn", await QueueAsync(bed));
        Assert.Equal(["1 reminders written as files, 0 not, 0 left in doubt by an earlier run"], [await SendAsync(bed)]);
        Assert.StartsWith("0 reminders", await SendAsync(bed), StringComparison.Ordinal);
        Assert.Equal("0 reminders queued, 0 withdrawn", await QueueAsync(bed));
        Assert.Equal("a@family.example", Assert.Single(Letters(bed)).To.Mailboxes.Single().Address);
        Assert.Equal(["screen 2026-11-20 1 written"], await StatesAsync(bed));

        // What lies in a file reached nobody: neither page says that it was sent.
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var id = (await bed.ListAsync("select infant_id from reminders"))[0];
        Assert.Contains("Reminder written to a file, not sent", await coordinator.GetStringAsync($"/infants/{id}", IntakeBed.Ct),
            StringComparison.Ordinal);
        var list = await coordinator.GetStringAsync("/outreach?show=written", IntakeBed.Ct);
        Assert.Contains($"/infants/{id}", list, StringComparison.Ordinal);
        Assert.DoesNotContain($"/infants/{id}", await coordinator.GetStringAsync("/outreach?show=sent", IntakeBed.Ct),
            StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("kind,record_number,died_on\ndeath,A,2026-11-01\n")]
    [InlineData("kind,record_number,move,moved_on\nmove,A,out_of_region,2026-11-01\n")]
    [InlineData("kind,record_number,step,refused_on\nrefusal,A,screening,2026-11-01\n")]
    [InlineData("kind,record_number,admitted_on,raises_risk\nreadmission,A,2026-11-20,false\n")]
    [InlineData(Header + "screening,A,,,,,,,,,,,,right,pass,,aabr,2026-11-24T10:00\nscreening,A,,,,,,,,,,,,left,pass,,aabr,2026-11-24T10:00\n")]
    public async Task What_was_queued_is_withdrawn_and_not_sent(string fact)
    {
        await using var bed = await StartAsync();
        await bed.SendAsync(Header + Birth("A", "a@family.example"));
        await QueueAsync(bed);
        var id = await bed.SendAsync(fact);
        Assert.All(await bed.OutcomesAsync(id), o => Assert.Equal("accepted", o));

        // Asked again at the moment of sending, whether or not the nightly job has withdrawn it yet.
        Assert.StartsWith("0 reminders", await SendAsync(bed), StringComparison.Ordinal);
        Assert.Equal("0 reminders queued, 1 withdrawn", await QueueAsync(bed));
        Assert.Empty(Letters(bed));
    }

    /// <summary>The mother may not be told, or somebody else decides; what opens it is said in words, by nothing less.</summary>
    [Theory]
    [InlineData("mother,,,no,2026-11-01", 0)]
    [InlineData("mother,,,no,", 0)]
    [InlineData("agency,Lind child protection,yes,,2026-11-01", 0)]
    [InlineData("foster_parent,Nora Berg,yes,yes,2026-11-01", 0)]
    [InlineData("mother,,,no,2026-11-01\nfamily_contact,A,mother,Brannoch A,,,2026-11-02", 0)] // another word about her opens nothing
    [InlineData("mother,,,yes,2026-11-01\nfamily_contact,A,mother,,,no,2026-11-02", 0)]
    [InlineData("mother,,,no,2026-11-02\nfamily_contact,A,mother,,,yes,2026-11-01", 0)] // sent late: older than what holds
    [InlineData("father,,,no,2026-11-01", 1)]
    [InlineData("father,,yes,,2026-11-01", 1)] // both parents decide
    [InlineData("mother,,,no,2026-11-01\nfamily_contact,A,mother,,,yes,2026-11-02", 1)]
    [InlineData("agency,Lind child protection,yes,,2026-11-01\nfamily_contact,A,agency,,no,,2026-11-02", 1)]
    [InlineData("agency,Lind child protection,yes,,2026-11-01\nfamily_contact,A,mother,,,yes,2026-11-02", 1)]
    public async Task Nobody_is_written_to_who_may_not_be_told(string said, int letters)
    {
        await using var bed = await StartAsync();
        await bed.SendAsync(Header + Birth("A", "a@family.example"));
        Assert.Equal("1 reminders queued, 0 withdrawn", await QueueAsync(bed));
        var id = await bed.SendAsync(
            $"kind,record_number,relation,person_name,holds_custody,may_be_told,stated_on\nfamily_contact,A,{said}\n");
        Assert.All(await bed.OutcomesAsync(id), o => Assert.Equal("accepted", o));
        // Asked again at the moment of sending.
        Assert.StartsWith($"{letters} reminders", await SendAsync(bed), StringComparison.Ordinal);
        Assert.Equal(letters, Letters(bed).Count);
        Assert.Equal($"0 reminders queued, {1 - letters} withdrawn", await QueueAsync(bed));

        // The record says the same as the letters do.
        await using var connection = await bed.Source.OpenConnectionAsync(IntakeBed.Ct);
        var infant = new InfantId(Guid.Parse((await bed.ListAsync("select id from infants"))[0]));
        var family = (await Registry.Infants.Record.ReadFamilyNow.OfAsync(connection, [infant], IntakeBed.Ct))[infant];
        Assert.Equal(letters == 1, family.MotherMayBeWrittenTo);
    }

    [Theory]
    [InlineData("screening,A,,,,,,,,,,,,right,no_valid_result,noise,aabr,2026-11-02T10:00\n", 1)]
    [InlineData("screening,A,,,,,,,,,,,,right,no_valid_result,noise,aabr,2026-11-01T10:00\n", 0)]
    public async Task A_refusal_ends_when_the_family_came_on_a_later_day(string came, int reminders)
    {
        await using var bed = await StartAsync();
        await bed.SendAsync(Header + Birth("A", "a@family.example"));
        await bed.SendAsync("kind,record_number,step,refused_on\nrefusal,A,screening,2026-11-01\n");
        Assert.Equal("0 reminders queued, 0 withdrawn", await QueueAsync(bed));
        await bed.SendAsync(Header + came);
        Assert.Equal($"{reminders} reminders queued, 0 withdrawn", await QueueAsync(bed));
    }

    [Fact]
    public async Task Twins_get_one_reminder()
    {
        await using var bed = await StartAsync();
        await bed.SendAsync("kind,record_number,birth_date,sex,plurality,birth_order,contact_email,email_consent\nbirth,A,2026-10-20,female,2,1,both@family.example,true\nbirth,B,2026-10-20,female,2,2,Both@family.example,true\n");
        Assert.Equal("1 reminders queued, 0 withdrawn", await QueueAsync(bed));
        Assert.Equal("0 reminders queued, 0 withdrawn", await QueueAsync(bed));
    }

    [Fact]
    public async Task Reminders_repeat_after_the_set_days_and_end_after_the_set_number()
    {
        await using var bed = await StartAsync(
            new() { ["Outreach:MaxPerStep"] = "2", ["Outreach:RepeatDays"] = "10", ["Outreach:GapDays"] = "7" });
        await bed.SendAsync(Header + Birth("A", "a@family.example"));
        for (var letter = 1; letter <= 3; letter++)
        {
            await QueueAsync(bed);
            await SendAsync(bed);
            await bed.ListAsync("update reminders set sent_at = sent_at - interval '11 days', queued_at = queued_at - interval '11 days' "
                + "returning id");
        }

        Assert.Equal(["screen 2026-11-20 1 written", "screen 2026-11-20 2 written"], await StatesAsync(bed));
        Assert.Equal(2, Letters(bed).Count);
    }

    [Fact]
    public async Task Opening_the_stop_link_only_asks()
    {
        await using var bed = await StartAsync();
        await bed.SendAsync(Header + Birth("A", "a@family.example"));
        await QueueAsync(bed);
        using var client = bed.App.CreateClient();
        var asked = await client.GetStringAsync($"/stop/{await TokenAsync(bed)}", IntakeBed.Ct);
        Assert.Contains("Stop the messages", asked, StringComparison.Ordinal);
        Assert.Equal(0, await bed.CountAsync("mail_stops"));
        AssertSaysNothing(asked);
    }

    [Fact]
    public async Task The_stop_link_ends_the_reminders()
    {
        await using var bed = await StartAsync();
        await bed.SendAsync(Header + Birth("A", "a@family.example"));
        await QueueAsync(bed);
        await StopAsync(bed, await TokenAsync(bed));
        Assert.Equal(1, await bed.CountAsync("mail_stops"));
        Assert.Equal(["screen 2026-11-20 1 withdrawn"], await StatesAsync(bed));
        Assert.Equal("0 reminders queued, 0 withdrawn", await QueueAsync(bed));
    }

    [Fact]
    public async Task A_stop_link_tells_a_stranger_nothing()
    {
        await using var bed = await StartAsync();
        await bed.SendAsync(Header + Birth("A", "a@family.example"));
        await QueueAsync(bed);
        var token = await TokenAsync(bed);
        var unknown = await StopAsync(bed, "no-such-token");
        Assert.Equal(0, await bed.CountAsync("mail_stops"));
        var known = await StopAsync(bed, token);
        Assert.Equal(unknown, known.Replace(token, "no-such-token", StringComparison.Ordinal));
    }

    private static async Task<string> TokenAsync(IntakeBed bed) => (await bed.ListAsync("select stop_token from reminders"))[0];

    /// <summary>As a mail program does with one click (RFC 8058).</summary>
    private static async Task<string> StopAsync(IntakeBed bed, string token)
    {
        using var client = bed.App.CreateClient();
        using var form = new FormUrlEncodedContent([new("List-Unsubscribe", "One-Click")]);
        using var answer = await client.PostAsync($"/stop/{token}", form, IntakeBed.Ct);
        return await answer.Content.ReadAsStringAsync(IntakeBed.Ct);
    }

    public static TheoryData<string> Languages => ["en", "es"];

    [Theory, MemberData(nameof(Languages))]
    public void The_letter_as_html_holds_its_whole_text(string language)
    {
        var letter = WriteLetter.In(language);
        var html = WriteLetter.Html(letter, "555-0100", "http://127.0.0.1/stop/x");
        Assert.StartsWith($"<!DOCTYPE html><html lang=\"{language}\"><head><meta charset=\"utf-8\">", html, StringComparison.Ordinal);
        Assert.EndsWith("<a href=\"http://127.0.0.1/stop/x\">http://127.0.0.1/stop/x</a></p></body></html>", html, StringComparison.Ordinal);
        var text = System.Net.WebUtility.HtmlDecode(html);
        Assert.All(letter.Paragraphs.Append(letter.Greeting).Append(letter.Subject), part =>
            Assert.Contains(part.Replace("{phone}", "555-0100", StringComparison.Ordinal), text, StringComparison.Ordinal));
        Assert.DoesNotContain('{', html);
    }

    /// <summary>Over many families, results and languages: a letter is the same but for its telephone number and its random link.</summary>
    [Fact]
    public async Task A_letter_says_nothing_about_the_child()
    {
        await using var bed = await StartAsync(new() { ["Outreach:DaysBefore"] = "365", ["Outreach:PerRun"] = "1000" });
        string[] outcomes = ["", "pass", "refer", "no_valid_result"];
        string[] languages = ["en", "es", "Spanish", "so", ""];
        var csv = Header;
        for (var i = 0; i < 80; i++)
        {
            var day = new DateOnly(2026, 7, 1).AddDays(i);
            var date = day.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture);
            csv += $"birth,N{i},{date},{(i % 2 == 0 ? "female" : "male")},Tessaly{i},Quillfeather{i},Brannoch{i},Quillfeather{i},1994-03-07,{languages[i % 5]},m{i}@family.example,555-0177,true,,,,,\n";
            foreach (var (ear, outcome) in new[] { ("right", outcomes[i % 4]), ("left", outcomes[i / 4 % 4]) })
                if (outcome.Length > 0)
                    csv += $"screening,N{i},,,,,,,,,,,,{ear},{outcome},{(outcome == "no_valid_result" ? "noise" : "")},aabr,{date}T23:00\n";
        }

        var id = await bed.SendAsync(csv);
        Assert.All(await bed.OutcomesAsync(id), o => Assert.Equal("accepted", o));
        await QueueAsync(bed);
        await SendAsync(bed);
        var letters = Letters(bed);
        Assert.InRange(letters.Count, 50, 80);
        var steps = (await bed.ListAsync("select distinct step from reminders"));
        Assert.True(steps.Count >= 3, string.Join(", ", steps));
        Assert.Equal(2, letters.Select(l => l.Subject).Distinct().Count());
        foreach (var letter in letters)
        {
            Assert.Equal("Family appointment line", letter.From.Mailboxes.Single().Name);
            foreach (var text in new[] { letter.Subject, letter.TextBody, letter.HtmlBody })
            {
                AssertSaysNothing(text);
                Assert.DoesNotMatch(@"\d{4}-\d\d-\d\d|\bN\d+\b|2026|2025|1994",
            System.Text.RegularExpressions.Regex.Replace(text!, "/stop/[0-9a-f]{64}", "/stop/"));
            }
        }

        // Stronger than a list of words: without the link, all letters of a language are one text.
        Assert.Equal(2, letters.Select(l => System.Text.RegularExpressions.Regex.Replace(l.TextBody!, "/stop/[0-9a-f]{64}", "/stop/"))
            .Distinct().Count());
        Assert.Equal(letters.Count, letters.Select(l => System.Text.RegularExpressions.Regex.Match(l.TextBody!, "/stop/[0-9a-f]{64}").Value)
            .Distinct().Count());
    }

    [Fact]
    public async Task A_mail_server_gets_each_reminder_once()
    {
        await using var sink = new SmtpSink();
        await using var bed = await StartAsync(Smtp(sink));
        await bed.SendAsync(Header + Birth("A", "a@family.example") + Birth("B", "b@family.example", language: "es", sex: "male"));
        await QueueAsync(bed);
        Assert.StartsWith("2 reminders sent", await SendAsync(bed), StringComparison.Ordinal);
        Assert.StartsWith("0 reminders sent", await SendAsync(bed), StringComparison.Ordinal);
        Assert.Equal(2, sink.Received.Count);
        Assert.Contains(sink.Received, r => r.To.Contains("a@family.example", StringComparison.Ordinal)
            && r.Message.Contains("A reminder to call us", StringComparison.Ordinal));
        Assert.Contains(sink.Received, r => r.To.Contains("b@family.example", StringComparison.Ordinal)
            && r.Message.Contains("Un recordatorio para que nos llame", StringComparison.Ordinal));
        Assert.All(sink.Received, r =>
            Assert.Contains("List-Unsubscribe-Post: List-Unsubscribe=One-Click", r.Message, StringComparison.Ordinal));
    }

    [Fact]
    public async Task A_temporary_refusal_waits_a_permanent_one_fails()
    {
        await using var sink = new SmtpSink { RecipientAnswer = "450 try later" };
        await using var bed = await StartAsync(Smtp(sink));
        await bed.SendAsync(Header + Birth("A", "a@family.example"));
        await QueueAsync(bed);
        await SendAsync(bed);
        Assert.Equal(["queued The mail server refused it (450)"], await bed.ListAsync(
            "select state || ' ' || last_error from reminders where not_before > queued_at"));
        sink.RecipientAnswer = "550 no such mailbox a@family.example";
        await bed.ListAsync("update reminders set not_before = queued_at returning id");
        await SendAsync(bed);
        Assert.Equal(["failed The mail server refused it (550)"], await bed.ListAsync("select state || ' ' || last_error from reminders"));
        Assert.Empty(sink.Received);
    }

    [Fact]
    public async Task A_reminder_that_may_have_left_is_not_sent_again()
    {
        await using var sink = new SmtpSink { BreakAfterData = true };
        await using var bed = await StartAsync(Smtp(sink));
        await bed.SendAsync(Header + Birth("A", "a@family.example"));
        await QueueAsync(bed);
        await SendAsync(bed);
        sink.BreakAfterData = false;
        await SendAsync(bed);
        Assert.Single(sink.Received);
        Assert.Equal([$"failed {SendReminders.Unknown}"], await bed.ListAsync("select state || ' ' || last_error from reminders"));
    }

    [Fact]
    public async Task A_reminder_whose_worker_was_killed_between_asking_and_marking_is_not_sent_again()
    {
        await using var sink = new SmtpSink();
        await using var bed = await StartAsync(Smtp(sink));
        await bed.SendAsync(Header + Birth("A", "a@family.example"));
        await QueueAsync(bed);
        await SendAsync(bed);
        await bed.ListAsync("update reminders set state = 'sending', last_error = null returning id");
        Assert.EndsWith("1 left in doubt by an earlier run", await SendAsync(bed), StringComparison.Ordinal);
        Assert.Single(sink.Received);
    }

    [Fact]
    public async Task An_unreachable_mail_server_loses_nothing()
    {
        await using var bed = await StartAsync(new() { ["Outreach:Smtp:Host"] = "127.0.0.1", ["Outreach:Smtp:Port"] = "1" });
        await bed.SendAsync(Header + Birth("A", "a@family.example"));
        await QueueAsync(bed);
        await Assert.ThrowsAnyAsync<Exception>(() => SendAsync(bed));
        Assert.Equal(["screen 2026-11-20 1 queued"], await StatesAsync(bed));
    }

    [Fact]
    public async Task A_mail_server_without_TLS_is_sent_nothing_unless_it_is_on_this_machine_and_so_set()
    {
        await using var sink = new SmtpSink();
        var settings = Smtp(sink);
        settings.Remove("Outreach:Smtp:Security");
        await using var bed = await StartAsync(settings);
        await bed.SendAsync(Header + Birth("A", "a@family.example"));
        await QueueAsync(bed);
        await Assert.ThrowsAnyAsync<Exception>(() => SendAsync(bed)); // it offers no STARTTLS
        Assert.Empty(sink.Received);
        Assert.Equal(["screen 2026-11-20 1 queued"], await StatesAsync(bed));

        var refused = await Assert.ThrowsAsync<Microsoft.Extensions.Options.OptionsValidationException>(() => StartAsync(new()
        {
            ["Outreach:Smtp:Host"] = "relay.example",
            ["Outreach:Smtp:Security"] = "None",
        }));
        Assert.Contains("on this machine only", refused.Message, StringComparison.Ordinal);
    }

    private static void AssertSaysNothing(string? text)
    {
        string[] forbidden =
        [
            "Tessaly", "Quillfeather", "Brannoch", "hearing", "screen", "refer ", "refer.", "pass ", "diagnos", "loss", "audiolog", "NICU",
            "intensive", "newborn", "baby",
            "left ear", "right ear", " ear ", "oído", "audición", "auditiv", "bebé", "recién nacido", "diagnóst", "tamiz",
        ];
        foreach (var word in forbidden)
            Assert.DoesNotContain(word, System.Text.RegularExpressions.Regex.Replace(
                text!, "(?s)<footer>.*</footer>|<header.*</header>|<head>.*</head>", ""), StringComparison.OrdinalIgnoreCase);
    }

    private Task<IntakeBed> StartAsync(Dictionary<string, string?>? settings = null) => StartAsync(database, settings);

    /// <summary>Letters are written to a folder of their own.</summary>
    internal static async Task<IntakeBed> StartAsync(TestDatabase database, Dictionary<string, string?>? settings = null)
    {
        settings ??= [];
        settings["Outreach:Folder"] = RegistryApp.NewOutbox();
        return await IntakeBed.StartAsync(database, settings);
    }

    internal static Dictionary<string, string?> Smtp(SmtpSink sink) => new()
    {
        ["Outreach:Smtp:Host"] = "127.0.0.1",
        ["Outreach:Smtp:Port"] = sink.Port.ToString(CultureInfo.InvariantCulture),
        ["Outreach:Smtp:Security"] = "None",
    };

    internal static Task<string> QueueAsync(IntakeBed bed) => bed.App.Services.GetRequiredService<QueueReminders>().RunAsync(IntakeBed.Ct);
    internal static Task<string> SendAsync(IntakeBed bed) => bed.App.Services.GetRequiredService<SendReminders>().RunAsync(IntakeBed.Ct);

    private static Task<List<string>> StatesAsync(IntakeBed bed) =>
        bed.ListAsync("select concat_ws(' ', step, due_on, ordinal, state) from reminders order by due_on, ordinal");

    internal static List<MimeMessage> Letters(IntakeBed bed)
    {
        var folder = bed.App.Services.GetRequiredService<Microsoft.Extensions.Options.IOptions<OutreachOptions>>().Value.Folder!;
        return Directory.Exists(folder) ? [.. Directory.GetFiles(folder, "*.eml").Select(f => MimeMessage.Load(f))] : [];
    }
}
