using System.Globalization;
using Microsoft.AspNetCore.Diagnostics;
using Microsoft.AspNetCore.WebUtilities;
using Registry.Platform;

namespace Registry.Ui;

/// <summary>
/// The day a page answers for: <c>?asOf=yyyy-MM-dd</c>, or today. Carried from page to page by <see cref="Link"/>, so that
/// a number and the infants behind it are of the same day.
/// </summary>
public sealed class AsOf
{
    /// <summary>Before it nobody was screened at birth, and a period that ends there could not be counted back.</summary>
    private const int EarliestYear = 1950;

    private readonly HttpContext? _http;

    public AsOf(IHttpContextAccessor http, ProgramClock clock)
    {
        _http = http.HttpContext;
        Today = clock.Today;
        Date = Today;
        // The page that says why a day was refused shows today.
        if (_http?.Features.Get<IExceptionHandlerFeature>() is not null) return;
        var asked = _http?.Request.Query["asOf"].ToString();
        if (string.IsNullOrEmpty(asked)) return;
        if (!AskedDay.TryRead(asked, out var date))
            Problem = "The as-of date was not understood; it reads year-month-day, like 2026-03-31. Today is shown.";
        else if (date > Today)
            Problem = "The as-of date lies in the future. Today is shown.";
        else if (date.Year < EarliestYear)
            throw ProblemWords.NoSuchDay();
        else
            Date = date;
    }

    public DateOnly Date { get; }
    public DateOnly Today { get; }
    public bool IsToday => Date == Today;

    /// <summary>Why the asked date was not taken, in words.</summary>
    public string? Problem { get; }

    /// <summary>A local URL with the given query and the as-of date; null and empty values are left out, dates are ISO,
    /// enums are their codes.</summary>
    public string Link(string path, params (string Name, object? Value)[] query) =>
        Build(path, query.Select(q => new KeyValuePair<string, string?>(q.Name, Text(q.Value))));

    /// <summary>This page with some of its query changed and the rest kept.</summary>
    public string Here(params (string Name, object? Value)[] changes)
    {
        if (_http is null) return "/";
        var query = _http.Request.Query
            .Where(q => q.Key != "asOf" && !changes.Any(c => c.Name.Equals(q.Key, StringComparison.OrdinalIgnoreCase)))
            .SelectMany(q => q.Value.Select(v => new KeyValuePair<string, string?>(q.Key, v)))
            .Concat(changes.Select(c => new KeyValuePair<string, string?>(c.Name, Text(c.Value))));
        return Build(_http.Request.Path, query);
    }

    /// <summary>Today's query without the date: what the date form must carry along.</summary>
    public IEnumerable<(string Name, string Value)> Carried(params string[] except) =>
        _http is null ? [] : _http.Request.Query
            .Where(q => q.Key is not ("asOf" or "after") && !except.Contains(q.Key, StringComparer.OrdinalIgnoreCase))
            .SelectMany(q => q.Value.Select(v => (q.Key, v ?? "")));

    private string Build(string path, IEnumerable<KeyValuePair<string, string?>> query)
    {
        var kept = query.Where(q => !string.IsNullOrEmpty(q.Value)).ToList();
        if (!IsToday) kept.Add(new("asOf", Text(Date)));
        return QueryHelpers.AddQueryString(path, kept);
    }

    private static string? Text(object? value) => value switch
    {
        null => null,
        string text => text,
        bool yes => yes ? "true" : null,
        DateOnly date => date.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture),
        Enum code => Words.Code(code),
        IFormattable number => number.ToString(null, CultureInfo.InvariantCulture),
        _ => value.ToString(),
    };
}
