using System.Globalization;
using System.Net;
using System.Net.Http.Json;
using System.Net.Mime;
using Registry.Intake.Typing;
using Registry.Records;

namespace Registry.Tests.Intake.Typing;

/// <summary>What a phone kept comes over HTTP as anybody could send it: again, altered, under another name, with another person's seal.
/// </summary>
public sealed class KeptEntriesTests(TestDatabase database)
{
    private const string Rows =
        """
        kind,record_number,birth_date,sex,mother_given_name,mother_family_name,mother_birth_date
        birth,H-1,2026-11-20,female,Ada,Marlow,1995-02-03

        """;

    private static readonly Dictionary<string, string> BothEars = new()
    {
        ["Form.Columns[outcome_right]"] = "pass",
        ["Form.Columns[outcome_left]"] = "refer",
        ["Form.Columns[method]"] = "aabr",
        ["Form.Columns[day]"] = "2026-11-21",
        ["Form.Columns[time]"] = "09:15",
    };

    [Fact]
    public async Task The_same_entry_sent_again_is_one_result_and_answered_alike()
    {
        await using var bed = await FilledAsync();
        using var client = await SignedIn.AsAsync(bed, Role.Screener, bed.Harbour);
        var (key, seen) = (Guid.CreateVersion7(), await SeenAsync(client));
        var first = await SendAsync(bed, client, key, seen, BothEars);
        Assert.NotNull(first.Saved);
        var again = await SendAsync(bed, client, key, seen, BothEars);
        Assert.Equal(first.Saved, again.Saved);
        var atOnce = await Task.WhenAll(Enumerable.Range(0, 8).Select(_ => SendAsync(bed, client, key, seen, BothEars)));
        Assert.All(atOnce, a => Assert.Equal(first.Saved, a.Saved));

        // Under the same key something else is not that entry, and changes nothing.
        var other = await SendAsync(bed, client, key, seen, new(BothEars) { ["Form.Columns[outcome_left]"] = "pass" });
        Assert.Null(other.Saved);
        Assert.Equal([TypingWords.NotStored], other.Problems);
        Assert.Equal(["left refer", "right pass"], await bed.ListAsync("select ear || ' ' || outcome from screenings order by ear"));
        Assert.Equal(["1"], await bed.ListAsync("select count(*) from submissions where format = 'typed'"));
    }

    [Fact]
    public async Task What_is_wrong_is_told_by_ear_column_and_reason_and_the_key_is_free_for_the_correction()
    {
        await using var bed = await FilledAsync();
        using var client = await SignedIn.AsAsync(bed, Role.Screener, bed.Harbour);
        var (key, seen) = (Guid.CreateVersion7(), await SeenAsync(client));
        var wrong = await SendAsync(bed, client, key, seen, new(BothEars) { ["Form.Columns[outcome_left]"] = "no_valid_result" });
        Assert.Null(wrong.Saved);
        var problem = Assert.Single(wrong.Problems);
        Assert.StartsWith("Left ear: Reason: ", problem, StringComparison.Ordinal);
        Assert.NotNull((await SendAsync(bed, client, key, seen, BothEars)).Saved);
    }

    /// <summary>Recorded by others since the list was made: shown, and saved beside it when the person says so.</summary>
    [Fact]
    public async Task What_was_recorded_since_the_list_was_made_is_shown_first()
    {
        await using var bed = await FilledAsync();
        using var client = await SignedIn.AsAsync(bed, Role.Screener, bed.Harbour);
        await bed.SendAsync("kind,record_number,ear,outcome,method,performed_at\nscreening,H-1,right,refer,teoae,2026-11-20T08:00\n");
        var (key, listed) = (Guid.CreateVersion7(), bed.Now.AddHours(-1).UtcTicks.ToString(CultureInfo.InvariantCulture));
        var asked = await SendAsync(bed, client, key, listed, BothEars);
        Assert.Null(asked.Saved);
        Assert.Contains("right ear: refer", Assert.Single(asked.Look), StringComparison.Ordinal);
        Assert.NotNull((await SendAsync(bed, client, key, asked.Seen!, BothEars)).Saved);
        Assert.Equal(["3"], await bed.ListAsync("select count(*) from screenings where superseded_at is null"));
    }

    [Fact]
    public async Task A_seal_opens_for_its_person_alone()
    {
        await using var bed = await FilledAsync();
        var person = await bed.AddPersonAsync(Role.Screener, bed.Harbour);
        using var first = SignedIn.Nobody(bed);
        (await SignedIn.PostAsync(first, person, IntakeBed.Password)).Dispose();
        var made = await KeyAsync(first, "");
        Assert.NotEqual(made!.Key, (await KeyAsync(first, ""))!.Key);
        Assert.Equal(made.Key, (await KeyAsync(first, made.Sealed))!.Key);

        // Not in another place of the alphabet, not altered, not for somebody else: each the same answer.
        using var other = await SignedIn.AsAsync(bed, Role.Screener, bed.Harbour);
        Assert.Null(await KeyAsync(other, made.Sealed));
        Assert.Null(await KeyAsync(first, made.Sealed[..^6] + "AAAAAA"));
        Assert.Null(await KeyAsync(first, "no seal"));
        Assert.Null(await KeyAsync(first, made.Key));

        // A later sign-in of the same person opens it; one that ended opens nothing.
        await bed.ListAsync("update sessions set ended_at = now() where person_id = $1 and ended_at is null returning id", person.Id);
        using var ended = await first.PostAsync("/ward?handler=Key", new FormUrlEncodedContent([new("sealed", made.Sealed)]), IntakeBed.Ct);
        Assert.NotEqual(HttpStatusCode.OK, ended.StatusCode);
        using var later = SignedIn.Nobody(bed);
        (await SignedIn.PostAsync(later, person, IntakeBed.Password)).Dispose();
        Assert.Equal(made.Key, (await KeyAsync(later, made.Sealed))!.Key);
    }

    [Fact]
    public async Task Another_sites_infant_and_a_form_without_its_token_are_refused()
    {
        await using var bed = await FilledAsync();
        using var other = await SignedIn.AsAsync(bed, Role.Screener, bed.Hill);
        using var foreign = await PostAsync(bed, other, Guid.CreateVersion7(), await SeenAsync(other), BothEars);
        Assert.Equal(HttpStatusCode.NotFound, foreign.StatusCode);

        using var own = await SignedIn.AsAsync(bed, Role.Screener, bed.Harbour);
        // The token of a page that another person had open.
        var theirs = await SignedIn.TokenAsync(other, "/ward");
        foreach (var token in new[] { "", theirs })
        {
            using var refused = await PostAsync(bed, own, Guid.CreateVersion7(), await SeenAsync(own), BothEars, token);
            Assert.Equal(HttpStatusCode.BadRequest, refused.StatusCode);
        }

        Assert.Equal(["0"], await bed.ListAsync("select count(*) from submissions where format = 'typed'"));
    }

    /// <summary>Who has not tested yet chooses a method: none is supposed.</summary>
    [Fact]
    public async Task No_method_is_chosen_for_who_has_not_tested_yet()
    {
        await using var bed = await FilledAsync();
        using var client = await SignedIn.AsAsync(bed, Role.Screener, bed.Harbour);
        var page = await client.GetStringAsync("/ward", IntakeBed.Ct);
        Assert.DoesNotContain("selected", page.Split("typed-method")[2].Split("</select>")[0], StringComparison.Ordinal);
    }

    /// <summary>What a phone keeps of pages is the same for everybody, whoever asks.</summary>
    [Fact]
    public async Task The_frame_a_phone_keeps_shows_nobody()
    {
        await using var bed = await FilledAsync();
        using var nobody = SignedIn.Nobody(bed);
        using var screener = await SignedIn.AsAsync(bed, Role.Screener, bed.Harbour);
        var frame = await nobody.GetStringAsync("/ward/offline", IntakeBed.Ct);
        Assert.Equal(frame, await screener.GetStringAsync("/ward/offline", IntakeBed.Ct));
        Assert.DoesNotContain("Marlow", frame, StringComparison.Ordinal);
        Assert.DoesNotContain("__RequestVerificationToken", frame, StringComparison.Ordinal);
        Assert.Contains("Marlow", await screener.GetStringAsync("/ward", IntakeBed.Ct), StringComparison.Ordinal);
    }

    private async Task<IntakeBed> FilledAsync()
    {
        var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(Rows, at: bed.Now.AddDays(-1));
        return bed;
    }

    private static async Task<string> SeenAsync(HttpClient client)
    {
        var page = await client.GetStringAsync("/ward", IntakeBed.Ct);
        return page.Split("data-seen=\"")[1].Split('"')[0];
    }

    private static async Task<TypedAnswer> SendAsync(IntakeBed bed, HttpClient client, Guid key, string seen,
        Dictionary<string, string> fields)
    {
        using var answer = await PostAsync(bed, client, key, seen, fields);
        return (await answer.Content.ReadFromJsonAsync<TypedAnswer>(IntakeBed.Ct))!;
    }

    private static async Task<HttpResponseMessage> PostAsync(IntakeBed bed, HttpClient client, Guid key, string seen,
        Dictionary<string, string> fields, string? token = null)
    {
        var infant = (await bed.ListAsync("select id from infants"))[0];
        using var request = new HttpRequestMessage(HttpMethod.Post, $"/infants/{infant}/screen")
        {
            Content = new FormUrlEncodedContent(
                fields.Append(new("Form.Key", key.ToString())).Append(new("Form.Seen", seen)).Append(new("Form.Confirmed", "false"))),
        };
        request.Headers.Accept.Add(new(MediaTypeNames.Application.Json));
        request.Headers.Add("X-Registry-Form", token ?? await SignedIn.TokenAsync(client, "/ward"));
        return await client.SendAsync(request, IntakeBed.Ct);
    }

    private static async Task<DeviceLock?> KeyAsync(HttpClient client, string @sealed)
    {
        using var form = new FormUrlEncodedContent(
            [new("sealed", @sealed), new("__RequestVerificationToken", await SignedIn.TokenAsync(client, "/ward"))]);
        using var answer = await client.PostAsync("/ward?handler=Key", form, IntakeBed.Ct);
        return answer.StatusCode == HttpStatusCode.NotFound ? null : await answer.Content.ReadFromJsonAsync<DeviceLock>(IntakeBed.Ct);
    }
}
