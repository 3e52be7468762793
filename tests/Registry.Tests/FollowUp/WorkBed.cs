using System.Net;
using System.Text.RegularExpressions;
using Registry.Records;
using Registry.Tests.Intake;

namespace Registry.Tests.FollowUp;

/// <summary>A few invented families, and short ways to use the work list. The program's today is 25 November 2026.</summary>
internal static partial class WorkBed
{
    private const string Header =
        "kind,record_number,birth_date,birth_time,discharged_on,sex,infant_given_name,mother_given_name,mother_family_name,mother_birth_date,language,contact_phone,ear,outcome,method,performed_at\n";

    /// <summary>A refer of one ear or both, in time for a diagnosis when born after 25 August.</summary>
    public static string Family(string number, string born, string mother, bool bothEars = false, string phone = "555-0142") =>
        $"birth,{number},{born},08:00,{born},female,Ilse,Ada,{mother},{MotherBorn(number)},es,{phone},,,,\n"
        + $"screening,{number},,,,,,,,,,,right,refer,aabr,{born}T20:00\n"
        + $"screening,{number},,,,,,,,,,,left,{(bothEars ? "refer" : "pass")},aabr,{born}T20:05\n"
        + $"screening,{number},,,,,,,,,,,right,refer,aabr,{Later(born)}T10:00\n"
        + $"screening,{number},,,,,,,,,,,left,{(bothEars ? "refer" : "pass")},aabr,{Later(born)}T10:05\n";

    public static async Task<IntakeBed> StartAsync(TestDatabase database, bool listen = false, string? rows = null)
    {
        var bed = await IntakeBed.StartAsync(database, listen: listen);
        await bed.SendAsync(Header + (rows ?? Family("W-1", "2026-10-10", "Marlow") + Family("W-2", "2026-10-10", "Quist", bothEars: true)
            + Family("W-3", "2026-10-01", "Berg") + Family("W-4", "2026-01-10", "Lost") + Family("W-5", "2026-10-20", "Tarn")));
        return bed;
    }

    public static Task SendAsync(IntakeBed bed, string rows, SiteId? site = null) => bed.SendAsync(Header + rows, site);

    public static async Task<string> IdAsync(IntakeBed bed, string number) =>
        (await bed.ListAsync("select infant_id from infant_identifiers where value = $1 and superseded_at is null", number))[0];

    public static async Task<string?> TrayAsync(IntakeBed bed, string infant) =>
        (await bed.ListAsync($"select tray from infant_work where infant_id = '{infant}'")).SingleOrDefault();

    /// <summary>Whose names the list shows, in its order.</summary>
    public static async Task<string[]> ShownAsync(HttpClient client, string query = "") =>
        Names(await client.GetStringAsync("/follow-up" + query, IntakeBed.Ct));

    public static string[] Names(string page) => [.. Row().Matches(page).Select(m => WebUtility.HtmlDecode(m.Groups[1].Value))];

    /// <summary>A call as the panel sends it.</summary>
    public static Task<HttpResponseMessage> CallAsync(HttpClient client, string infant, string outcome, params (string, string)[] more) =>
        SignedIn.SendFormAsync(client, "/follow-up",
        [
            ("infant", infant), ("Step", "Diagnosis"), ("Outcome", outcome), ("AttemptedOn", "2026-11-25"), ("Channel", "Phone"),
            .. more.Any(m => m.Item1 == "Key") ? [] : new[] { ("Key", Guid.NewGuid().ToString()) }, .. more,
        ]);

    /// <summary>A form by which rows are typed, opened and sent.</summary>
    public static async Task<HttpResponseMessage> TypeAsync(HttpClient client, string path, (string Name, string Value)[] columns,
        params (string, string)[] more)
    {
        var page = await client.GetStringAsync(path, IntakeBed.Ct);
        return await SignedIn.SendFormAsync(client, path,
        [
            .. Hidden().Matches(page).Select(m => (m.Groups[1].Value, WebUtility.HtmlDecode(m.Groups[2].Value))),
            .. columns.Select(c => ($"Form.Columns[{c.Name}]", c.Value)), .. more,
        ]);
    }

    /// <summary>Each of another age, so that no two families look like one.</summary>
    private static string MotherBorn(string number) => new DateOnly(1985, 1, 1).AddDays(61 * int.Parse(number[2..], null)).ToString(
        "yyyy-MM-dd", System.Globalization.CultureInfo.InvariantCulture);

    private static string Later(string born) =>
        DateOnly.Parse(born, null).AddDays(14).ToString("yyyy-MM-dd", System.Globalization.CultureInfo.InvariantCulture);

    [GeneratedRegex("""<input type="hidden" name="(Form\.\w+)" value="([^"]*)">""")]
    private static partial Regex Hidden();

    [GeneratedRegex("""<th scope="row">\s*<a href="[^"]+#call">([^<]+)</a>""")]
    private static partial Regex Row();
}
