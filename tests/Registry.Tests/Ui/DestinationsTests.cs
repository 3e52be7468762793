using System.Security.Claims;
using Registry.Access;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Ui;

namespace Registry.Tests.Ui;

/// <summary>Where each role can go. That every page shown also opens, <c>OfferedLinksTests</c> tries.</summary>
public sealed class DestinationsTests
{
    [Theory]
    [InlineData(Role.Coordinator, "Work Children Sites Reports Administration")]
    [InlineData(Role.SiteManager, "Work Children Sites Reports")]
    [InlineData(Role.Screener, "Work Children Sites Reports")]
    [InlineData(Role.AudiologyClinic, "Work Children Sites Reports")]
    [InlineData(Role.InterventionProgram, "Work Children Sites Reports")]
    [InlineData(Role.VitalRecords, "Work Children Sites Reports")]
    [InlineData(Role.CaseWorker, "Work Children Reports")]
    [InlineData(Role.Epidemiologist, "Reports")]
    [InlineData(Role.Administrator, "Administration")]
    [InlineData(Role.Auditor, "Administration")]
    public void A_role_sees_the_destinations_it_has_pages_in(Role role, string expected)
    {
        var destinations = Destinations.Of(Person(role));
        Assert.Equal(expected, string.Join(' ', destinations.Select(d => d.Word)));
        var pages = destinations.SelectMany(d => d.Pages).ToList();
        Assert.Distinct(pages.Select(p => p.Path));
        Assert.All(pages, p => Assert.True(Permissions.Holds(Person(role), p.Permission), p.Path));
    }

    [Fact]
    public void Nobody_and_who_has_no_site_see_no_page_of_a_site()
    {
        Assert.Empty(Destinations.Of(new ClaimsPrincipal()));
        var pages = Destinations.Of(Person(Role.Screener, withSite: false)).SelectMany(d => d.Pages).Select(p => p.Path).ToList();
        Assert.DoesNotContain("/ward", pages);
        Assert.DoesNotContain("/submissions", pages);
    }

    [Fact]
    public void A_screener_begins_with_the_ward_and_a_coordinator_with_the_own_work()
    {
        Assert.Equal("/ward", Destinations.Of(Person(Role.Screener))[0].Pages[0].Path);
        var coordinator = Destinations.Of(Person(Role.Coordinator));
        Assert.Equal("/follow-up", coordinator[0].Pages[0].Path);
        Assert.Equal("/glasses", coordinator[1].Pages[^1].Path);
    }

    [Theory]
    [InlineData("/", "/")]
    [InlineData("/submissions", "/submissions")]
    [InlineData("/submissions/held", "/submissions/held")]
    [InlineData("/submissions/0199/rows/3", "/submissions")]
    [InlineData("/submissions/held/bulk/0199", "/submissions/held")]
    [InlineData("/infants/new", "/infants/new")]
    [InlineData("/infants/0199", "/infants")]
    [InlineData("/Infants/0199/screen", "/infants")]
    [InlineData("/flags", "/flags")]
    [InlineData("/meeting/list", "/meeting")]
    [InlineData("/reports/chance-of-loss", "/reports/chance-of-loss")]
    [InlineData("/infantsx", null)]
    [InlineData("/access/own", null)]
    public void An_address_belongs_to_the_page_that_names_it_most_exactly(string path, string? page) =>
        Assert.Equal(page, Destinations.At(Destinations.Of(Person(Role.Coordinator)), path)?.Path);

    private static ClaimsPrincipal Person(Role role, bool withSite = true)
    {
        var identity = new ClaimsIdentity("test");
        identity.AddClaim(new("registry:person", Guid.CreateVersion7().ToString()));
        identity.AddClaim(new("registry:role", Codes.Of(role)));
        if (withSite && Permissions.NeedsSite(role)) identity.AddClaim(new("registry:site", SiteId.New().ToString()));
        return new(identity);
    }
}
