using Registry.Rules.Quality;
using Registry.Ui;

namespace Registry.SiteQuality.Equipment;

/// <summary>What the page of a site's equipment says.</summary>
public static class EquipmentWords
{
    public const string Lead =
        "As its tests name them, and what was done to them. What is entered here is marked in the weekly charts of flags, so that it is "
        + "seen whether it helped. What was borrowed is a unit of its own here: note where it is from.";

    public static string Due(int months) =>
        $"Calibration is due {Words.Count(months, "month")} after the last one entered here (policy; common practice, no source). The "
        + "manufacturer's instructions and local rules come first.";

    /// <summary>"Probe P9: tip changed".</summary>
    public static string Happened(EquipmentEvent e) => e.Unit == QualityUnitKind.Screener ? Words.Of((Enum)e.Kind)
        : $"{Words.Of((Enum)e.Unit)} {e.Name}: {Words.Of((Enum)e.Kind).ToLowerInvariant()}";

    /// <summary>"Instrument: calibrated", to choose from.</summary>
    public static string Choice(QualityUnitKind unit, EquipmentEventKind kind) =>
        $"{Words.Of((Enum)unit)}: {Words.Of((Enum)kind).ToLowerInvariant()}";

    public static string Of(EventAnswer answer) => answer switch
    {
        EventAnswer.Recorded => "Entered. It stands in the history below.",
        EventAnswer.TookBack => "Taken back.",
        EventAnswer.WhatNeeded => "Choose what happened.",
        EventAnswer.NameNeeded => "Give the name or number, as tests have it.",
        EventAnswer.DayNeeded => "Give the day it happened: today or before.",
        EventAnswer.TooManyWords => $"At most {RecordEvent.LongestWords} characters.",
        EventAnswer.NoSuchEvent => "It is taken back already.",
        _ => "Only who entered it, the manager of the site or a coordinator may do that; of a screener only the manager.",
    };

    public static string Due(EquipmentLine line, DateOnly today) => line switch
    {
        { Away: true } => "away",
        { DueOn: null } => "none entered",
        { DueOn: { } due } when due < today => $"▲ over since {Words.Date(due)}",
        _ => Words.Date(line.DueOn),
    };
}
