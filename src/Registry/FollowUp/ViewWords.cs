using Registry.Ui;

namespace Registry.FollowUp;

/// <summary>What pages say of saved views.</summary>
public static class ViewWords
{
    public static string Of(ViewAnswer answer) => answer switch
    {
        ViewAnswer.Saved => "The view is saved.",
        ViewAnswer.Renamed => "Changed.",
        ViewAnswer.Discarded => "The view is discarded.",
        ViewAnswer.DefaultSet => "The list opens so from now on.",
        ViewAnswer.NoName => $"Give it a name of at most {KeepViews.LongestName} characters.",
        ViewAnswer.TooMany => $"You have {KeepViews.Most} views: discard one first.",
        _ => "There is no such view of yours.",
    };

    /// <summary>What a view shows, in words.</summary>
    public static string Of(WorkFilter filter) => string.Join(" · ", new[]
    {
        WorkWords.Of(filter.Tray), filter.Step is { } step ? Words.Of((Enum)step) : null, filter.Site is { } site ? $"site {site}" : null,
        filter.County is { } county ? $"county {county}" : null, filter.Language is { } language ? $"language {language}" : null,
        filter.Owner switch { WorkFilter.Mine => "assigned to me", WorkFilter.Nobodys => "assigned to nobody", _ => null },
        filter.WithPhone ? "with a phone number" : null,
    }.OfType<string>());
}
