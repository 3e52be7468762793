using System.Globalization;
using System.Net.Mail;
using System.Text.RegularExpressions;
using Registry.Records;
using Registry.Rules;
using Registry.Rules.Facts;

namespace Registry.SiteDirectory;

/// <summary>What is around the place that is read.</summary>
/// <param name="Today">No place closes later: it is closed on the day, or after.</param>
/// <param name="Counties">Those of the program; empty: any.</param>
/// <param name="Others">Every other site.</param>
public sealed record PlaceContext(DateOnly Today, IReadOnlyList<string> Counties, IReadOnlyList<Site> Others);

/// <summary>Reads a form onto a site, and says of each field what is wrong with it.</summary>
public static partial class ReadPlace
{
    private const int LongestText = 120;

    /// <returns>Problems by field; none: the site holds what the form says.</returns>
    public static IReadOnlyList<(string Field, string Problem)> Onto(Site site, PlaceForm form, PlaceContext context)
    {
        var problems = new List<(string, string)>();
        Naming(site, form, context, problems);
        Care(site, form, problems);
        Reaching(site, form, problems);
        Span(site, form, context, problems);
        return problems;
    }

    private static void Naming(Site site, PlaceForm form, PlaceContext context, List<(string, string)> problems)
    {
        Check(CodeForm().IsMatch(form.Code), nameof(form.Code), PlaceWords.Code);
        Check(context.Others.All(o => o.Code != form.Code), nameof(form.Code), PlaceWords.CodeTaken);
        Check(form.Name.Length is > 0 and <= LongestText, nameof(form.Name), PlaceWords.Name);
        Check(context.Others.All(o => !o.Name.Equals(form.Name, StringComparison.OrdinalIgnoreCase)), nameof(form.Name),
            PlaceWords.NameTaken);
        var county = context.Counties.FirstOrDefault(c => c.Equals(form.County, StringComparison.OrdinalIgnoreCase))
            ?? (context.Counties.Count == 0 ? form.County : "");
        Check(county.Length is > 0 and <= LongestText, nameof(form.County), PlaceWords.County(context.Counties));
        Check(Codes.TryParse<SiteKind>(form.Kind, out var kind), nameof(form.Kind), PlaceWords.Kind);
        (site.Name, site.County, site.Kind) = (form.Name, county, kind);

        void Check(bool right, string field, string problem)
        {
            if (!right) problems.Add((field, problem));
        }
    }

    private static void Care(Site site, PlaceForm form, List<(string, string)> problems)
    {
        bool? nicu = form.Nicu.ToLowerInvariant() switch
        {
            "" or "no" or "false" or "0" => false,
            "yes" or "true" or "1" => true,
            _ => null,
        };
        if (nicu is null) problems.Add((nameof(form.Nicu), PlaceWords.YesOrNo));
        site.HasNicu = nicu == true;
        site.CareLevel = Codes.TryParse<CareLevel>(form.CareLevel, out var level) ? level : null;
        if (form.CareLevel.Length > 0 && site.CareLevel is null) problems.Add((nameof(form.CareLevel), PlaceWords.CareLevels));
        var services = Split(form.Services);
        if (services.FirstOrDefault(s => !Codes.TryParse<ClinicService>(s, out _)) is not null)
            problems.Add((nameof(form.Services), PlaceWords.Services));
        site.Services = services;
        site.YoungestMonths = Months(form.YoungestMonths, nameof(form.YoungestMonths), problems);
        site.OldestMonths = Months(form.OldestMonths, nameof(form.OldestMonths), problems);
        if (site.YoungestMonths > site.OldestMonths) problems.Add((nameof(form.OldestMonths), PlaceWords.Ages));
        site.CountiesServed = Split(form.CountiesServed);
    }

    private static void Reaching(Site site, PlaceForm form, List<(string, string)> problems)
    {
        site.StateNumber = Short(form.StateNumber, nameof(form.StateNumber), problems);
        site.Npi = form.Npi.Length == 0 ? null : form.Npi;
        if (site.Npi is { } npi && !Npi.IsValid(npi)) problems.Add((nameof(form.Npi), PlaceWords.Npi));
        site.ContactName = Short(form.ContactName, nameof(form.ContactName), problems);
        site.ContactPhone = Short(form.ContactPhone, nameof(form.ContactPhone), problems);
        site.ContactEmail = Short(form.ContactEmail, nameof(form.ContactEmail), problems);
        if (site.ContactEmail is { } email && !MailAddress.TryCreate(email, out _))
            problems.Add((nameof(form.ContactEmail), PlaceWords.Email));
        site.ArrivalDays = int.TryParse(form.ArrivalDays, NumberStyles.None, CultureInfo.InvariantCulture, out var days)
            && days is >= 1 and <= 90 ? days : null;
        if (form.ArrivalDays.Length > 0 && site.ArrivalDays is null)
            problems.Add((nameof(form.ArrivalDays), PlaceWords.ArrivalDays));
    }

    private static void Span(Site site, PlaceForm form, PlaceContext context, List<(string, string)> problems)
    {
        site.OpenFrom = Day(form.OpenFrom, nameof(form.OpenFrom), problems);
        site.ClosedOn = Day(form.ClosedOn, nameof(form.ClosedOn), problems);
        if (site.ClosedOn < site.OpenFrom) problems.Add((nameof(form.ClosedOn), PlaceWords.ClosesAfterOpening));
        if (site.ClosedOn > context.Today) problems.Add((nameof(form.ClosedOn), PlaceWords.ClosesOnTheDay));
        site.Active = site.ClosedOn is null;
        var (next, before) = (context.Others.FirstOrDefault(o => o.Code == form.ContinuedBy), site.ContinuedBy);
        site.ContinuedBy = next?.Id;
        if (form.ContinuedBy.Length == 0) return;
        // One that was closed since stays: the line goes on to who continues that one.
        if (next is not { Active: true } && (next is null || next.Id != before))
            problems.Add((nameof(form.ContinuedBy), PlaceWords.ContinuedByOpen));
        if (site.ClosedOn is null) problems.Add((nameof(form.ContinuedBy), PlaceWords.ContinuedWhenClosed));
    }

    private static DateOnly? Day(string text, string field, List<(string, string)> problems)
    {
        if (text.Length == 0) return null;
        if (DateOnly.TryParseExact(text, "yyyy-MM-dd", CultureInfo.InvariantCulture, DateTimeStyles.None, out var day)
            && day.Year is > 1800 and < 2200) return day;
        problems.Add((field, PlaceWords.Day));
        return null;
    }

    private static int? Months(string text, string field, List<(string, string)> problems)
    {
        if (text.Length == 0) return null;
        if (int.TryParse(text, NumberStyles.None, CultureInfo.InvariantCulture, out var months) && months <= 252) return months;
        problems.Add((field, PlaceWords.Months));
        return null;
    }

    private static string? Short(string text, string field, List<(string, string)> problems)
    {
        if (text.Length > LongestText) problems.Add((field, PlaceWords.TooLong(LongestText)));
        return text.Length == 0 ? null : text;
    }

    private static string[] Split(string text) =>
        [.. text.Split([';', '\n', '\r'], StringSplitOptions.TrimEntries | StringSplitOptions.RemoveEmptyEntries).Distinct()];

    [GeneratedRegex(@"^[a-z0-9](-?[a-z0-9]){1,39}\z")]
    private static partial Regex CodeForm();
}
