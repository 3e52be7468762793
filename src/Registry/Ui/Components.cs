using System.Globalization;
using System.Net;
using Microsoft.AspNetCore.Razor.TagHelpers;
using Registry.Rules;
using Registry.Rules.Statistics;

namespace Registry.Ui;

/// <summary><c>&lt;milestone-state value="state" /&gt;</c>: a shape and a word; the colour only repeats them.</summary>
[HtmlTargetElement("milestone-state", TagStructure = TagStructure.NormalOrSelfClosing)]
public sealed class MilestoneStateTag : TagHelper
{
    public MilestoneState Value { get; set; }

    public override void Process(TagHelperContext context, TagHelperOutput output)
    {
        output.TagName = "span";
        output.TagMode = TagMode.StartTagAndEndTag;
        output.Attributes.SetAttribute("class", $"state {Words.Code(Value).Replace('_', '-')}");
        output.Content.SetHtmlContent($"""<svg viewBox="0 0 16 16" aria-hidden="true">{Shape(Value)}</svg>{Words.Of(Value)}""");
    }

    private const string Frame =
        """<rect x="2.75" y="2.75" width="10.5" height="10.5" fill="none" stroke="currentColor" stroke-width="1.5"/>""";

    private static string Shape(MilestoneState state) => state switch
    {
        MilestoneState.Met => """<rect x="2" y="2" width="12" height="12" fill="currentColor"/>""",
        MilestoneState.Late => Frame + """<path d="M2.5 13.5 13.5 13.5 13.5 2.5z" fill="currentColor"/>""",
        MilestoneState.Missed => """<path d="M8 1 15 8 8 15 1 8z" fill="currentColor"/>""",
        MilestoneState.Pending => Frame,
        MilestoneState.Excluded => """<path d="M3 3 13 13M13 3 3 13" stroke="currentColor" stroke-width="2"/>""",
        _ => """<path d="M3 8H13" stroke="currentColor" stroke-width="2"/>""",
    };
}

/// <summary>
/// <c>&lt;share n="3" of="120" href="..." low="0.9" high="7.1" /&gt;</c>: "3 of 120 (2.5 %, 0.9–7.1)". The count links to the
/// infants or tests behind it; a share of nothing says so instead of showing a rate.
/// </summary>
[HtmlTargetElement("share", TagStructure = TagStructure.NormalOrSelfClosing)]
public sealed class ShareTag : TagHelper
{
    public long N { get; set; }
    public long Of { get; set; }
    public string? Href { get; set; }

    /// <summary>Ends of the 95 % interval, as proportions.</summary>
    public double? Low { get; set; }
    public double? High { get; set; }

    public override void Process(TagHelperContext context, TagHelperOutput output)
    {
        output.TagName = "span";
        output.TagMode = TagMode.StartTagAndEndTag;
        output.Attributes.SetAttribute("class", "share");
        var counts = $"{Words.Count(N)} of {Words.Count(Of)}";
        output.Content.SetHtmlContent(
            Href is null ? $"<span>{counts}</span>" : $"""<a href="{WebUtility.HtmlEncode(Href)}">{counts}</a>""");
        output.Content.AppendHtml(Of == 0
            ? """<span class="of">no denominator</span>"""
            : $"""<span class="of">{Percent(new Proportion(N, Of).ToPercent())} %{Interval()}</span>""");
    }

    private string Interval() =>
        Low is { } low && High is { } high ? $" <small>({Percent(low * 100)}–{Percent(high * 100)})</small>" : "";

    private static string Percent(IFormattable? percent) => percent?.ToString("0.0", CultureInfo.InvariantCulture) ?? "";
}

/// <summary><c>&lt;empty-state title="Nothing is due"&gt;advice&lt;/empty-state&gt;</c></summary>
[HtmlTargetElement("empty-state")]
public sealed class EmptyStateTag : TagHelper
{
    public string Title { get; set; } = "";

    public override void Process(TagHelperContext context, TagHelperOutput output)
    {
        output.TagName = "div";
        output.Attributes.SetAttribute("class", "empty");
        output.PreContent.SetHtmlContent($"<p><strong>{WebUtility.HtmlEncode(Title)}</strong></p><p>");
        output.PostContent.SetHtmlContent("</p>");
    }
}

/// <summary><c>&lt;th sort-by="born"&gt;Birth date&lt;/th&gt;</c>: a header that sorts by a link, so by keyboard too; a second use
/// turns the order. The current order is read from <c>?sort=born</c> or <c>?sort=-born</c>.</summary>
[HtmlTargetElement("th", Attributes = "sort-by")]
public sealed class SortHeaderTag(AsOf asOf, IHttpContextAccessor http) : TagHelper
{
    public string SortBy { get; set; } = "";

    /// <summary>Set on the column the list is sorted by when nothing was asked; "-" in front of the name means descending.</summary>
    public string? SortDefault { get; set; }

    public override void Process(TagHelperContext context, TagHelperOutput output)
    {
        var asked = http.HttpContext?.Request.Query["sort"].ToString();
        var current = string.IsNullOrEmpty(asked) ? SortDefault : asked;
        var ascending = current == SortBy;
        var descending = current == "-" + SortBy;
        output.Attributes.SetAttribute("scope", "col");
        if (ascending || descending) output.Attributes.SetAttribute("aria-sort", ascending ? "ascending" : "descending");
        var href = asOf.Here(("sort", ascending ? "-" + SortBy : SortBy), ("after", null));
        output.PreContent.SetHtmlContent($"""<a href="{WebUtility.HtmlEncode(href)}">""");
        output.PostContent.SetHtmlContent("</a>");
    }
}

/// <summary><c>&lt;data-table label="Infants"&gt;...&lt;/data-table&gt;</c>: a region that scrolls sideways, by keyboard too.</summary>
[HtmlTargetElement("data-table")]
public sealed class DataTableTag : TagHelper
{
    public string Label { get; set; } = "";

    public override void Process(TagHelperContext context, TagHelperOutput output)
    {
        output.TagName = "div";
        output.Attributes.SetAttribute("class", "table");
        output.Attributes.SetAttribute("role", "region");
        output.Attributes.SetAttribute("aria-label", Label);
        output.Attributes.SetAttribute("tabindex", "0");
    }
}

/// <summary>Where a list stands: how many rows are shown of how many, and the way on. Model of <c>_Pager</c>.</summary>
/// <param name="Shown">Rows on this page.</param>
/// <param name="Total">Rows of all pages, or how far they were counted.</param>
/// <param name="One">What one is called.</param>
/// <param name="Many">What several are.</param>
/// <param name="Next">Opaque position to continue after; null on the last page.</param>
/// <param name="More">Whether there are more than were counted.</param>
public sealed record Pager(int Shown, long Total, string One, string Many, string? Next, bool More = false);

/// <summary>What a list or figure must say: count, day, policy. Model of <c>_Says</c>.</summary>
public sealed record Says(string Count, DateOnly AsOf, string PolicyVersion);

/// <summary>A chart: its kind (a function of <c>charts.js</c>), its data and words for who cannot see it. Model of <c>_Chart</c>.
/// The page shows the same data as a table.</summary>
public sealed record Chart(string Kind, string Label, object Data);
