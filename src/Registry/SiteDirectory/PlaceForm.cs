using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.SiteDirectory;

/// <summary>A site, clinic or program as it is typed, or stands in a row of a file: text, until <see cref="ReadPlace"/> read it.</summary>
public sealed record PlaceForm
{
    public string Code { get; init; } = "";
    public string Name { get; init; } = "";
    public string Kind { get; init; } = "";
    public string County { get; init; } = "";
    public string Nicu { get; init; } = "";
    public string CareLevel { get; init; } = "";
    public string StateNumber { get; init; } = "";
    public string Npi { get; init; } = "";
    public string ContactName { get; init; } = "";
    public string ContactPhone { get; init; } = "";
    public string ContactEmail { get; init; } = "";
    public string Services { get; init; } = "";
    public string YoungestMonths { get; init; } = "";
    public string OldestMonths { get; init; } = "";
    public string CountiesServed { get; init; } = "";
    public string ArrivalDays { get; init; } = "";
    public string OpenFrom { get; init; } = "";
    public string ClosedOn { get; init; } = "";
    public string ContinuedBy { get; init; } = "";

    /// <param name="site">What is stored.</param>
    /// <param name="codeOf">The code of another site.</param>
    public static PlaceForm Of(Site site, Func<SiteId, string?> codeOf) => new()
    {
        Code = site.Code,
        Name = site.Name,
        Kind = Codes.Of(site.Kind),
        County = site.County,
        Nicu = site.HasNicu ? "yes" : "no",
        CareLevel = site.CareLevel is { } level ? Codes.Of(level) : "",
        StateNumber = site.StateNumber ?? "",
        Npi = site.Npi ?? "",
        ContactName = site.ContactName ?? "",
        ContactPhone = site.ContactPhone ?? "",
        ContactEmail = site.ContactEmail ?? "",
        Services = string.Join(';', site.Services),
        YoungestMonths = Text(site.YoungestMonths),
        OldestMonths = Text(site.OldestMonths),
        CountiesServed = string.Join(';', site.CountiesServed),
        ArrivalDays = Text(site.ArrivalDays),
        OpenFrom = Text(site.OpenFrom),
        ClosedOn = Text(site.ClosedOn),
        ContinuedBy = site.ContinuedBy is { } by ? codeOf(by) ?? "" : "",
    };

    /// <summary>The columns of a file, in their order, with how each is read into the form and written from it.</summary>
    public static readonly (string Column, Func<PlaceForm, string, PlaceForm> With, Func<PlaceForm, string> Of)[] Columns =
    [
        ("code", (f, v) => f with { Code = v }, f => f.Code),
        ("name", (f, v) => f with { Name = v }, f => f.Name),
        ("kind", (f, v) => f with { Kind = v }, f => f.Kind),
        ("county", (f, v) => f with { County = v }, f => f.County),
        ("nicu", (f, v) => f with { Nicu = v }, f => f.Nicu),
        ("care_level", (f, v) => f with { CareLevel = v }, f => f.CareLevel),
        ("state_number", (f, v) => f with { StateNumber = v }, f => f.StateNumber),
        ("npi", (f, v) => f with { Npi = v }, f => f.Npi),
        ("contact_name", (f, v) => f with { ContactName = v }, f => f.ContactName),
        ("contact_phone", (f, v) => f with { ContactPhone = v }, f => f.ContactPhone),
        ("contact_email", (f, v) => f with { ContactEmail = v }, f => f.ContactEmail),
        ("services", (f, v) => f with { Services = v }, f => f.Services),
        ("youngest_months", (f, v) => f with { YoungestMonths = v }, f => f.YoungestMonths),
        ("oldest_months", (f, v) => f with { OldestMonths = v }, f => f.OldestMonths),
        ("counties_served", (f, v) => f with { CountiesServed = v }, f => f.CountiesServed),
        ("arrival_days", (f, v) => f with { ArrivalDays = v }, f => f.ArrivalDays),
        ("open_from", (f, v) => f with { OpenFrom = v }, f => f.OpenFrom),
        ("closed_on", (f, v) => f with { ClosedOn = v }, f => f.ClosedOn),
        ("continued_by", (f, v) => f with { ContinuedBy = v }, f => f.ContinuedBy),
    ];

    private static string Text(IFormattable? value) => value?.ToString(value is DateOnly ? "yyyy-MM-dd" : null,
        System.Globalization.CultureInfo.InvariantCulture) ?? "";
}
