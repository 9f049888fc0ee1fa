using System.Buffers.Text;
using System.Text;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Access;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Reports.Records;

/// <summary>The forms of addresses and identifiers in records (docs/records.md, "Forms").</summary>
internal static class JsonForms
{
    private static ReadOnlySpan<byte> UpperDigits => "0123456789ABCDEF"u8;

    /// <summary><c>"0x0003"</c></summary>
    public static void Address(this JsonLine line, ReadOnlySpan<byte> name, MeshAddress address)
    {
        Span<byte> text = stackalloc byte[6];
        WriteAddress(text, address);
        line.Json.WriteString(name, text);
    }

    public static void Address(this JsonLine line, ReadOnlySpan<byte> name, MeshAddress? address)
    {
        if (address is { } known)
            line.Address(name, known);
        else
            line.Null(name);
    }

    public static void Addresses(this JsonLine line, ReadOnlySpan<byte> name, IEnumerable<MeshAddress>? addresses)
    {
        if (addresses is null)
        {
            line.Null(name);
            return;
        }
        Span<byte> text = stackalloc byte[6];
        line.StartArray(name);
        foreach (MeshAddress address in addresses)
        {
            WriteAddress(text, address);
            line.Json.WriteStringValue(text);
        }
        line.EndArray();
    }

    /// <summary><c>"C0:FF:EE:00:12:34"</c>, from the 48-bit number with the most significant octet highest.</summary>
    public static void DeviceAddress(this JsonLine line, ReadOnlySpan<byte> name, ulong address)
    {
        Span<byte> text = stackalloc byte[17];
        WriteDeviceAddress(text, address);
        line.Json.WriteString(name, text);
    }

    public static void DeviceAddresses(this JsonLine line, ReadOnlySpan<byte> name, IReadOnlyList<ulong> addresses)
    {
        Span<byte> text = stackalloc byte[17];
        line.StartArray(name);
        foreach (ulong address in addresses)
        {
            WriteDeviceAddress(text, address);
            line.Json.WriteStringValue(text);
        }
        line.EndArray();
    }

    /// <summary><c>"0x"</c> and so many upper-case digits, at most 8.</summary>
    public static void PrefixedHex(this JsonLine line, ReadOnlySpan<byte> name, uint value, int digits)
    {
        Span<byte> text = stackalloc byte[10];
        text[0] = (byte)'0';
        text[1] = (byte)'x';
        for (int i = 0; i < digits; i++)
            text[2 + i] = UpperDigits[(int)((value >> (4 * (digits - 1 - i))) & 15)];
        line.Json.WriteString(name, text[..(2 + digits)]);
    }

    /// <summary><c>"0x8202"</c>: the wire octets of an access opcode.</summary>
    public static void Opcode(this JsonLine line, ReadOnlySpan<byte> name, Opcode opcode) =>
        line.PrefixedHex(name, opcode.Value, opcode.Octets * 2);

    /// <summary>The 8 octets of a Network ID.</summary>
    public static void NetworkId(this JsonLine line, ReadOnlySpan<byte> name, ulong networkId)
    {
        Span<byte> text = stackalloc byte[16];
        Utf8Formatter.TryFormat(networkId, text, out _, new System.Buffers.StandardFormat('x', 16));
        line.Json.WriteString(name, text);
    }

    public static void Uuid(this JsonLine line, ReadOnlySpan<byte> name, Guid? uuid)
    {
        if (uuid is { } known)
        {
            Span<byte> text = stackalloc byte[36];
            Utf8Formatter.TryFormat(known, text, out _);
            line.Json.WriteString(name, text);
        }
        else
            line.Null(name);
    }

    /// <summary>Whole milliseconds and fractions between two times, or null where either is not known.</summary>
    public static double? Milliseconds(long firstNs, long lastNs) =>
        firstNs == CapturedFrame.NoTime || lastNs == CapturedFrame.NoTime ? null : (double)((Int128)lastNs - firstNs) / 1e6;

    /// <summary>Text of a device address, for words.</summary>
    public static string DeviceAddressText(ulong address)
    {
        Span<byte> text = stackalloc byte[17];
        WriteDeviceAddress(text, address);
        return Encoding.ASCII.GetString(text);
    }

    private static void WriteAddress(Span<byte> text, MeshAddress address)
    {
        text[0] = (byte)'0';
        text[1] = (byte)'x';
        for (int i = 0; i < 4; i++)
            text[2 + i] = UpperDigits[(address.Value >> (12 - (4 * i))) & 15];
    }

    private static void WriteDeviceAddress(Span<byte> text, ulong address)
    {
        for (int i = 0; i < 6; i++)
        {
            int octet = (int)((address >> (8 * (5 - i))) & 0xFF);
            text[3 * i] = UpperDigits[octet >> 4];
            text[(3 * i) + 1] = UpperDigits[octet & 15];
            if (i < 5)
                text[(3 * i) + 2] = (byte)':';
        }
    }
}
