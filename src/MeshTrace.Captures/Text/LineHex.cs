namespace MeshTrace.Captures.Text;

/// <summary>
/// Finds the octets in a log line: hexadecimal digits in one piece, in groups of two or four octets between spaces, or in pairs between spaces, colons,
/// dashes or commas, each with or without 0x. The longest find counts, the last one of equals.
/// </summary>
internal static class LineHex
{
    /// <summary>Octets taken from one line: above any PDU and any value of an attribute.</summary>
    public const int MostOctets = 1024;

    /// <summary>Digits in one piece and without 0x: below, and of one kind only, they are numbers or words.</summary>
    private const int ShortestPiece = 4, ShortestOfOneKind = 12;
    private const int AddressPairs = 6;

    /// <returns>Octets written to <paramref name="octets"/>; 0 where there are none.</returns>
    /// <param name="line">The line without its time.</param>
    /// <param name="octets">Room for <see cref="MostOctets"/>.</param>
    /// <param name="expected">The words of the line tell that it has octets: then digits that might be a number are taken for them, too.</param>
    public static int Find(ReadOnlySpan<byte> line, Span<byte> octets, bool expected)
    {
        int best = 0;
        Span<byte> found = stackalloc byte[MostOctets];
        for (int at = 0; at < line.Length;)
        {
            if (!IsHex(line[at]) || (at > 0 && (IsWord(line[at - 1]) || IsPartOfUuid(line, at))))
            {
                at++;
                continue;
            }
            int count = Take(line, ref at, found, expected ? ShortestPiece : ShortestOfOneKind);
            if (count == 0 || count < best)
                continue;
            best = count;
            found[..count].CopyTo(octets);
        }
        return best;
    }

    /// <summary>Takes the find that begins here and passes over it.</summary>
    private static int Take(ReadOnlySpan<byte> line, ref int at, Span<byte> found, int shortestOfOneKind)
    {
        int start = at, digits = DigitsFrom(line, ref at, out bool prefixed);
        if (digits == 2)
            return TakePairs(line, start, ref at, found);
        if (digits is 4 or 8 && !prefixed && TakeGroups(line, start, digits, ref at, found, shortestOfOneKind) is > 0 and var grouped)
            return grouped;
        bool isWordy = at < line.Length && IsWord(line[at]);
        ReadOnlySpan<byte> piece = line.Slice(at - digits, digits);
        bool oneKind = piece.IndexOfAnyExceptInRange((byte)'0', (byte)'9') < 0 || piece.IndexOfAnyInRange((byte)'0', (byte)'9') < 0;
        bool isUuid = digits == 8 && IsUuid(line, at - digits);
        if (isUuid)
            at += 28;
        if (isWordy || isUuid || digits % 2 != 0 || digits < ShortestPiece || (!prefixed && oneKind && digits < shortestOfOneKind) || digits / 2 > MostOctets)
            return 0;
        for (int i = 0; i < digits / 2; i++)
            found[i] = (byte)((Value(piece[2 * i]) << 4) | Value(piece[(2 * i) + 1]));
        return digits / 2;
    }

    /// <summary>Two groups of two or four octets and more, as frameworks print data: all as long as the first but the last, which may be shorter.</summary>
    private static int TakeGroups(ReadOnlySpan<byte> line, int start, int digits, ref int at, Span<byte> found, int shortestOfOneKind)
    {
        int count = 0, groups = 0, end = start;
        bool anyDigit = false, anyLetter = false;
        for (int next = start; next < line.Length && count < MostOctets; next = end + 1)
        {
            int here = next, length = DigitsFrom(line, ref here, out bool prefixed);
            if (prefixed || length == 0 || length % 2 != 0 || length > digits || (here < line.Length && (IsWord(line[here]) || line[here] == (byte)'-')))
                break;
            for (int digit = next; digit < here && count < MostOctets; digit += 2)
                found[count++] = (byte)((Value(line[digit]) << 4) | Value(line[digit + 1]));
            anyDigit |= line[next..here].IndexOfAnyInRange((byte)'0', (byte)'9') >= 0;
            anyLetter |= line[next..here].IndexOfAnyExceptInRange((byte)'0', (byte)'9') >= 0;
            (groups, end) = (groups + 1, here);
            if (length < digits || end >= line.Length || line[end] != (byte)' ')
                break;
        }
        if (groups < 2 || (!(anyDigit && anyLetter) && count * 2 < shortestOfOneKind))
            return 0;
        at = end;
        return count;
    }

    private static int TakePairs(ReadOnlySpan<byte> line, int start, ref int at, Span<byte> found)
    {
        int count = 0;
        byte separator = 0;
        at = start;
        while (at < line.Length && count < MostOctets)
        {
            int before = at, digits = DigitsFrom(line, ref at, out _);
            if (digits != 2 || (at < line.Length && IsWord(line[at])))
            {
                at = before;
                break;
            }
            found[count++] = (byte)((Value(line[at - 2]) << 4) | Value(line[at - 1]));
            if (at + 1 >= line.Length || line[at] is not ((byte)' ' or (byte)':' or (byte)'-' or (byte)',') || (separator != 0 && line[at] != separator))
                break;
            separator = line[at++];
            if (separator == (byte)',' && at < line.Length && line[at] == (byte)' ')
                at++;
        }
        while (at < line.Length && IsWord(line[at]))
            at++;
        at = Math.Max(at, start + 2);
        // Six pairs between colons or dashes are a device address.
        return count < 2 || (count == AddressPairs && separator is (byte)':' or (byte)'-') ? 0 : count;
    }

    private static int DigitsFrom(ReadOnlySpan<byte> line, ref int at, out bool prefixed)
    {
        prefixed = line[at..] is [(byte)'0', (byte)'x' or (byte)'X', var first, ..] && IsHex(first);
        if (prefixed)
            at += 2;
        int start = at;
        while (at < line.Length && IsHex(line[at]))
            at++;
        return at - start;
    }

    private static bool IsUuid(ReadOnlySpan<byte> line, int at)
    {
        if (at + 36 > line.Length)
            return false;
        for (int i = 0; i < 36; i++)
            if (i is 8 or 13 or 18 or 23 ? line[at + i] != (byte)'-' : !IsHex(line[at + i]))
                return false;
        return true;
    }

    /// <summary>Behind a dash and four digits: the rest of a UUID whose beginning was passed over.</summary>
    private static bool IsPartOfUuid(ReadOnlySpan<byte> line, int at) => at >= 9 && line[at - 1] == (byte)'-' && IsUuid(line, at - 9);

    private static bool IsWord(byte octet) => octet is (byte)'_' or (>= (byte)'0' and <= (byte)'9') || (octet | 0x20) is >= (byte)'a' and <= (byte)'z' || octet >= 0x80;
    private static bool IsHex(byte octet) => octet is >= (byte)'0' and <= (byte)'9' || (octet | 0x20) is >= (byte)'a' and <= (byte)'f';
    private static int Value(byte digit) => digit <= (byte)'9' ? digit - '0' : (digit | 0x20) - 'a' + 10;
}
