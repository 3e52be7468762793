using System.Text.RegularExpressions;

namespace Registry.Tests.Intake.Typing;

/// <summary>Opens a form as a browser does, and sends what it carries with what is typed over it.</summary>
internal static partial class TypedForms
{
    /// <summary>The form as it stands: its hidden fields, and what is filled in.</summary>
    public static async Task<Dictionary<string, string>> OpenAsync(HttpClient client, string path) =>
        Of(await client.GetStringAsync(path, IntakeBed.Ct));

    /// <summary>What a browser would send of the form that is typed.</summary>
    public static Dictionary<string, string> Of(string page)
    {
        var form = page[page.IndexOf("id=\"typed\"", StringComparison.Ordinal)..];
        form = form[..form.IndexOf("</form>", StringComparison.Ordinal)];
        var all = new Dictionary<string, string>();
        foreach (Match input in Input().Matches(form))
        {
            var (name, value) = (Name().Match(input.Value), Value().Match(input.Value));
            if (name.Success && !input.Value.Contains("type=\"radio\"", StringComparison.Ordinal))
                all[name.Groups[1].Value] = System.Net.WebUtility.HtmlDecode(value.Groups[1].Value);
        }

        foreach (Match select in Select().Matches(form))
        {
            all[select.Groups[1].Value] = Option().Matches(select.Groups[2].Value)
                .Where(o => o.Value.Contains("selected", StringComparison.Ordinal)).Select(o => Value().Match(o.Value).Groups[1].Value)
                .FirstOrDefault("");
        }

        return all;
    }

    public static async Task<HttpResponseMessage> PostAsync(HttpClient client, string path, Dictionary<string, string> form,
        params (string Column, string Value)[] typed)
    {
        var all = new Dictionary<string, string>(form);
        foreach (var (column, value) in typed)
            all[column.StartsWith("Form.", StringComparison.Ordinal) ? column : $"Form.Columns[{column}]"] = value;
        using var content = new FormUrlEncodedContent(all);
        return await client.PostAsync(path, content, IntakeBed.Ct);
    }

    [GeneratedRegex("<input[^>]*>")]
    private static partial Regex Input();

    [GeneratedRegex(" name=\"([^\"]+)\"")]
    private static partial Regex Name();

    [GeneratedRegex(" value=\"([^\"]*)\"")]
    private static partial Regex Value();

    [GeneratedRegex("<select[^>]* name=\"([^\"]+)\"[^>]*>(.*?)</select>", RegexOptions.Singleline)]
    private static partial Regex Select();

    [GeneratedRegex("<option[^>]*>")]
    private static partial Regex Option();
}
