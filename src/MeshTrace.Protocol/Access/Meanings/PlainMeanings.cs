using System.Globalization;
using MeshTrace.Protocol.Access.Catalogue;

namespace MeshTrace.Protocol.Access.Meanings;

/// <summary>Meanings that need code: look-ups in other tables, values that another field completes. Each is one word in the tables.</summary>
internal static class PlainMeanings
{
    /// <summary>The number is a mesh address.</summary>
    public static readonly Meaning Address = new Worded(static (field, _) => Hex(field.Number, 4));

    private static readonly Dictionary<string, Meaning> ByName = new(StringComparer.Ordinal)
    {
        ["address"] = Address,
        ["hex16"] = new Worded(static (field, _) => Hex(field.Number, 4)),
        ["hex32"] = new Worded(static (field, _) => Hex(field.Number, 8)),
        ["hex64"] = new Worded(static (field, _) => Hex(field.Number, 16)),
        ["opcode"] = new Worded(static (field, _) => AccessCatalogue.Find(new Opcode((uint)field.Number))?.Name),
        ["model"] = new Worded(static (field, _) => Model(field)),
        ["property"] = new Worded(static (field, _) => Property(field.Number)),
        ["fault"] = new Worded(static (field, _) => Fault((byte)field.Number)),
        ["transition"] = new Worded(static (field, _) => TransitionTime(field.Number)),
        ["exponent"] = new Worded(static (field, _) => Exponent(field.Number)),
        ["date"] = new Worded(static (field, _) => Date(field.Number)),
        ["tai"] = new Worded(Tai),
        ["publish-period"] = new Worded(PublishPeriod),
        ["range"] = new Worded(static (field, _) => Range(field)),
        ["uuid"] = new Worded(static (field, _) => Uuid(field.Octets.Span)),
        ["fields"] = new Worded(static (field, _) => Fields(field)),
        ["bitmap"] = new Worded(static (field, _) => Bitmap(field.Octets.Span)),
    };

    public static IEnumerable<string> Names => ByName.Keys;

    public static Meaning? Find(string name) => ByName.GetValueOrDefault(name);

    private static string Hex(long value, int digits) =>
        "0x" + value.ToString("X" + digits.ToString(CultureInfo.InvariantCulture), CultureInfo.InvariantCulture);

    private static string Model(DecodedField field)
    {
        if (field.Bits == 32 || field.Number > ushort.MaxValue)
            return $"company {Hex(field.Number >> 16, 4)}, model {Hex(field.Number & 0xFFFF, 4)}";
        return ModelCatalogue.Find((ushort)field.Number) is { } model ? $"{Hex(field.Number, 4)} {model.Name}" : Hex(field.Number, 4);
    }

    private static string Property(long id) =>
        DeviceProperties.Find((ushort)id) is { } property ? $"{Hex(id, 4)} {property.Name}" : Hex(id, 4);

    private static string Fault(byte fault) => HealthFaults.NameOf(fault) switch
    {
        null => "reserved value",
        { } name when fault >= 0x80 => string.Create(CultureInfo.InvariantCulture, $"{name} 0x{fault:X2}"),
        { } name => name,
    };

    // Generic Default Transition Time (Mesh Model 1.1 §3.1.3): steps in the low 6 bits, resolution in the high 2.
    private static string TransitionTime(long value)
    {
        long steps = value & 0x3F;
        if (steps == 0x3F)
            return "unknown";
        return steps == 0 ? "at once" : Durations.Say(steps * Resolution(value >> 6));
    }

    // Model Publish Period (Mesh Protocol 1.1 §4.2.3.2): the resolution is a field of its own, after the steps.
    private static string? PublishPeriod(DecodedField field, Layouts.Scope? scope)
    {
        if (field.Number == 0)
            return "off";
        return scope?.Find("PublishPeriodResolution") is { } resolution ? Durations.Say(field.Number * Resolution(resolution.Number)) : null;
    }

    private static double Resolution(long value) => (value & 3) switch { 0 => 100, 1 => 1000, 2 => 10_000, _ => 600_000 };

    // Time Exponential 8 of the device properties: 1.1^(n - 64) s; 0 is no time.
    private static string Exponent(long value) => value switch
    {
        0 => "0 s",
        0xFE => "life of the device",
        0xFF => "unknown",
        _ => Durations.Say(1000 * Math.Pow(1.1, value - 64)),
    };

    private static string Date(long days)
    {
        if (days == 0)
            return "unknown";
        const long dayNumberOf1970 = 719_162;
        var date = DateOnly.FromDayNumber((int)Math.Min(days + dayNumberOf1970, DateOnly.MaxValue.DayNumber));
        return date.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture);
    }

    // TAI Seconds (Mesh Model 1.1 §5.1.1): since 2000-01-01T00:00:00 TAI. UTC where the message tells the difference.
    private static string Tai(DecodedField field, Layouts.Scope? scope)
    {
        if (field.Number == 0)
            return "unknown";
        var start = new DateTime(2000, 1, 1, 0, 0, 0, DateTimeKind.Unspecified);
        if (field.Number >= (DateTime.MaxValue - start).TotalSeconds - ushort.MaxValue)
            return "after the year 9999";
        const int noDelta = 255;    // TAI-UTC Delta is sent with 255 added
        DecodedField? delta = scope?.FindHere("TAI-UTCDelta");
        DateTime time = start.AddSeconds(field.Number - (delta is null ? 0 : delta.Number - noDelta));
        return time.ToString("yyyy-MM-dd HH:mm:ss", CultureInfo.InvariantCulture) + (delta is null ? " TAI" : " UTC");
    }

    private static string? Range(DecodedField field)
    {
        if (field["RangeStart"] is not { } start)
            return null;
        string first = Hex(start.Number, 4);
        return field["RangeLength"] is { Number: > 1 } length ? first + "-" + Hex(start.Number + length.Number - 1, 4) : first;
    }

    // The fields of a group in one line: "Minimum -2.00 °C, Maximum 25.00 °C".
    private static string Fields(DecodedField group)
    {
        var words = new List<string>();
        foreach (DecodedField field in group.Children)
            words.Add($"{field.Name} {field.Reads ?? field.Text ?? field.Number.ToString(CultureInfo.InvariantCulture)}");
        return string.Join(", ", words);
    }

    private static string? Uuid(ReadOnlySpan<byte> octets) =>
        octets.Length == 16 ? new Guid(octets, bigEndian: true).ToString("D", CultureInfo.InvariantCulture) : null;

    // Which bits are set, bit 0 the lowest of the first octet: "0-3, 7".
    private static string Bitmap(ReadOnlySpan<byte> octets)
    {
        const int mostRuns = 16;
        var runs = new List<string>();
        int bits = octets.Length * 8;
        for (int bit = 0; bit < bits; bit++)
        {
            if (!IsSet(octets, bit))
                continue;
            int first = bit;
            while (bit + 1 < bits && IsSet(octets, bit + 1))
                bit++;
            if (runs.Count == mostRuns)
            {
                runs.Add("...");
                break;
            }
            string start = first.ToString(CultureInfo.InvariantCulture);
            runs.Add(first == bit ? start : start + "-" + bit.ToString(CultureInfo.InvariantCulture));
        }
        return runs.Count == 0 ? "none" : string.Join(", ", runs);
    }

    private static bool IsSet(ReadOnlySpan<byte> octets, int bit) => ((octets[bit >> 3] >> (bit & 7)) & 1) != 0;

    private sealed class Worded(Func<DecodedField, Layouts.Scope?, string?> words) : Meaning
    {
        public override string? Read(DecodedField field, Layouts.Scope? scope) => words(field, scope);
    }
}
