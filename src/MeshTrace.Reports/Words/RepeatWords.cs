using MeshTrace.Analysis.Repeats;

namespace MeshTrace.Reports.Words;

/// <summary>Repeats in a few letters, the same on paper, page and screen: "3 x 20 ms" is three transmissions, 20 ms apart.</summary>
internal static class RepeatWords
{
    /// <summary>As set; null where nobody says.</summary>
    public static string? Set(TransmitSetting? setting) => setting is { } known ? $"{known.Transmissions} x {known.IntervalMs} ms" : null;

    /// <summary>As heard; null where none was.</summary>
    public static string? Heard(RepeatCount? count) => count is not { Samples: > 0 } ? null
        : $"{count.Transmissions} x {(count.IntervalMs is { } interval ? $"{interval} ms" : "?")}";

    /// <summary>Who says what it is set to.</summary>
    public static string Origin(SettingOrigin origin) => origin switch
    {
        SettingOrigin.Description => "by the description",
        SettingOrigin.Told => "the node said so",
        _ => "a Config message asked for it",
    };
}
